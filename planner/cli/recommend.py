"""``test-ages recommend``: the main job."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .casting_time import CastingTime, Window, castings_at, check_castings
from .compiling import compile_first
from .long_work import check_resumable, long_search
from .options import computing_options, long_options, plan_argument

if TYPE_CHECKING:
    from ..laboratory.break_times import BreakTimes
    from ..terms.recommendation import Recommendation


@click.command()
@plan_argument
@click.option(
    "--cast",
    "windows",
    type=CastingTime(),
    multiple=True,
    metavar="TIME",
    help='Date the breaks: "2027-03-01 22:00", or a window "2027-03-01 18:00/2027-03-02 04:00". '
    "Once for each trial batch.",
)
@click.option("--figures", "has_figures", is_flag=True, help="Also write the pictures as PNG and SVG files.")
@click.option("--full", "is_full", is_flag=True, help="Print the whole account, not only the first screens of it.")
@computing_options
@long_options
def recommend(
    plan: Path,
    windows: tuple[Window, ...],
    has_figures: bool,
    is_full: bool,
    out: Path | None,
    seed: int,
    draws: int,
    workers: int | None,
    is_json: bool,
    is_resumed: bool,
    address: str | None,
    allow_outside: bool,
) -> None:
    """Score every choice of break ages and recommend the calibration schedule."""
    from planner.report.documents.folder import check_folder, write_files

    from ..pipeline import recommend as compute
    from ..read import load_plan
    from .result_files import result_files
    from .screen import say_written, shown_progress

    if out is None and has_figures:
        raise click.UsageError("--figures writes files: name a folder with --out.")
    check_resumable(out, is_resumed=is_resumed)
    if out is not None:
        check_folder(out)
    inputs = load_plan(plan, allow_outside=allow_outside)
    check_castings(windows, inputs.settings)
    with long_search(out, is_resumed=is_resumed, address=address):
        with shown_progress() as progress:
            compile_first(progress)
            result = compute(inputs, n_draws=draws, seed=seed, workers=workers, progress=progress)
        castings: tuple[BreakTimes, ...] = ()
        try:
            castings = castings_at(windows, result.recommended.schedule, inputs.settings)
            if out is not None:
                files = result_files(result, inputs.settings, castings=castings, has_figures=has_figures, folder=out)
                say_written(write_files(out, files))
        finally:  # a full disk must not cost the reader the answer
            _print(result, castings, is_json=is_json, is_full=is_full)


def _print(result: Recommendation, castings: Sequence[BreakTimes], *, is_json: bool, is_full: bool) -> None:
    if is_json:
        from planner.report.documents.recommendation_document import recommendation_document, write_json

        click.echo(write_json(recommendation_document(result)), nl=False)
        return
    from planner.report.accounts.brief_account import brief_account
    from planner.report.accounts.clock_account import clock_account
    from planner.report.accounts.full_account import recommendation_account
    from planner.report.screens.terminal import print_sections

    from .screen import result_console

    sections = recommendation_account(result) if is_full else brief_account(result)
    print_sections((sections[0], *clock_account(castings, result), *sections[1:]), result_console())
