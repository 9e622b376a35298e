"""``test-ages recommend``: the main job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from .compiling import compile_first
from .long_work import check_resumable, long_search
from .options import Computing, LongWork, PlanFile, flag, text

if TYPE_CHECKING:
    from ..laboratory.break_times import BreakTimes
    from ..terms.recommendation import Recommendation


CastTimes = Annotated[
    list[str] | None,
    text(
        "--cast",
        "TIME",
        'Date the breaks: "2027-03-01 22:00", or a window "2027-03-01 18:00/2027-03-02 04:00". '
        "Once for each trial batch.",
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What is made of the recommendation."""

    casts: CastTimes = None
    has_figures: Annotated[bool, flag("--figures", "Also write the pictures as PNG and SVG files.")] = False
    is_full: Annotated[bool, flag("--full", "Print the whole account, not only the first screens of it.")] = False


def recommend(plan: PlanFile, shown: Shown, computing: Computing, long_work: LongWork) -> None:
    """Score every choice of break ages and recommend the calibration schedule."""
    from planner.report.documents.folder import check_folder, write_files

    from ..laboratory.casting_times import casting_windows, castings_at, check_castings
    from ..pipeline import recommend as compute
    from ..read import load_plan
    from .result_files import result_files
    from .screen import say_written, shown_progress

    out = computing.out
    if out is None and shown.has_figures:
        raise typer.TyperException("--figures writes files: name a folder with --out.")
    check_resumable(out, is_resumed=long_work.is_resumed)
    windows = casting_windows(shown.casts or ())
    if out is not None:
        check_folder(out)
    inputs = load_plan(plan, allow_outside=computing.is_outside_allowed)
    check_castings(windows, inputs.settings)
    with long_search(out, is_resumed=long_work.is_resumed, address=long_work.address):
        with shown_progress() as progress:
            compile_first(progress)
            result = compute(inputs, **computing.work, progress=progress)
        castings: tuple[BreakTimes, ...] = ()
        try:
            castings = castings_at(windows, result.recommended.schedule, inputs.settings)
            if out is not None:
                files = result_files(
                    result, inputs.settings, castings=castings, has_figures=shown.has_figures, folder=out
                )
                say_written(write_files(out, files))
        finally:  # a full disk must not cost the reader the answer
            _print(result, castings, is_json=computing.is_json, is_full=shown.is_full)


def _print(result: Recommendation, castings: Sequence[BreakTimes], *, is_json: bool, is_full: bool) -> None:
    if is_json:
        from planner.report.documents.recommendation_document import recommendation_document, write_json

        typer.echo(write_json(recommendation_document(result)), nl=False)
        return
    from planner.report.accounts.brief_account import brief_account
    from planner.report.accounts.clock_account import clock_account
    from planner.report.accounts.full_account import recommendation_account
    from planner.report.screens.terminal import print_sections

    from .screen import result_console

    sections = recommendation_account(result) if is_full else brief_account(result)
    print_sections((sections[0], *clock_account(castings, result), *sections[1:]), result_console())
