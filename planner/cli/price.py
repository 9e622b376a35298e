"""``test-ages price``: what knowing the strength costs, and what the next specimen buys."""

from __future__ import annotations

from pathlib import Path

import click

from .options import computing_options, plan_argument


@click.command()
@plan_argument
@computing_options
def price(
    plan: Path,
    out: Path | None,
    seed: int,
    draws: int,
    workers: int | None,
    is_json: bool,
    allow_outside: bool,
) -> None:
    """Say what the calibration costs, what more specimens would buy, and how your schedule compares."""
    from ..pipeline import price as compute
    from ..read import load_plan
    from ..report.document import write_json
    from ..report.price_account import price_account
    from ..report.price_document import price_document
    from ..report.terminal import print_sections
    from ..report.write import check_folder, write_files
    from .screen import result_console, say_written, shown_progress

    if out is not None:
        check_folder(out)
    inputs = load_plan(plan, allow_outside=allow_outside)
    with shown_progress() as progress:
        answer = compute(inputs, n_draws=draws, seed=seed, workers=workers, progress=progress)
    document = write_json(price_document(answer))
    try:
        if out is not None:
            say_written(write_files(out, {"price.json": document.encode("utf-8")}))
    finally:  # a full disk must not cost the reader the answer
        if is_json:
            click.echo(document, nl=False)
        else:
            print_sections(price_account(answer), result_console())
