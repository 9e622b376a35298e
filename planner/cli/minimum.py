"""``test-ages minimum``: the least that has to be broken, and a draft clause that asks for it."""

from __future__ import annotations

from pathlib import Path

import click

from .options import computing_options, plan_argument


@click.command()
@plan_argument
@computing_options
def minimum(
    plan: Path,
    out: Path | None,
    seed: int,
    draws: int,
    workers: int | None,
    is_json: bool,
    allow_outside: bool,
) -> None:
    """Say which break ages must be there for every target, how many, and draft a clause."""
    from ..pipeline import minimum as compute
    from ..read import load_plan
    from ..report.document import write_json
    from ..report.minimum_account import minimum_account
    from ..report.minimum_document import minimum_document
    from ..report.terminal import print_sections
    from ..report.write import check_folder, write_files
    from .screen import result_console, say_written, shown_progress

    if out is not None:
        check_folder(out)
    inputs = load_plan(plan, allow_outside=allow_outside)
    with shown_progress() as progress:
        answer = compute(inputs, n_draws=draws, seed=seed, workers=workers, progress=progress)
    document = write_json(minimum_document(answer))
    try:
        if out is not None:
            say_written(write_files(out, {"minimum.json": document.encode("utf-8")}))
    finally:  # a full disk must not cost the reader the answer
        if is_json:
            click.echo(document, nl=False)
        else:
            print_sections(minimum_account(answer), result_console())
