"""``test-ages recommend``: the main job."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.options import CastTimes, Computing, LongWork, PlanFile, flag, text
from planner.cli.screen import print_answer, say_written, shown_progress

TrialFile = Annotated[
    Path | None,
    text("--trial", "FILE", "First breaks of the trial batch, a table or the workbook half filled: what to break now."),
]
TemperatureFile = Annotated[
    Path | None, text("--temperatures", "FILE", "Of the trial batch; not needed with a maturity column.")
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """A trial batch that is being broken."""

    trial: TrialFile = None
    temperatures: TemperatureFile = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What is made of the recommendation."""

    casts: CastTimes = None
    has_figures: Annotated[bool, flag("--figures", "Also write the pictures as PNG and SVG files.")] = False
    has_all_choices: Annotated[
        bool, flag("--all-choices", "Write every schedule into choices.csv, not only the best.")
    ] = False
    is_full: Annotated[bool, flag("--full", "Print the whole account, not only the first screens of it.")] = False


def recommend(plan: PlanFile, shown: Shown, begun: Begun, computing: Computing, long_work: LongWork) -> None:
    """Score every choice of break ages and recommend the calibration schedule."""
    from planner.laboratory.casting.casting_times import cast_at, casting_windows
    from planner.questions.long_runs import long_search
    from planner.questions.recommending import undated
    from planner.read import load_later, load_plan
    from planner.report.documents.folder import check_folder
    from planner.report.documents.result_files import check_calendar
    from planner.report.text.needed_library import OF_FIGURES

    out, casts = computing.out, shown.casts or []
    if out is None and shown.has_figures:
        raise typer.TyperException("--figures writes files: name a folder with --out.")
    if shown.has_figures:
        OF_FIGURES.check()
    if computing.is_json and shown.is_full:
        raise typer.TyperException("--json prints the whole document: leave out --full.")
    if begun.trial is None and begun.temperatures is not None:
        raise typer.TyperException("--temperatures are those of the trial batch: give --trial with them.")
    long_work.check(out)
    casting_windows(casts)  # before the plan is read: an unreadable time is told alone
    if out is not None:
        check_folder(out)
        if casts:
            check_calendar(out)
    inputs = cast_at(load_plan(plan, allow_outside=computing.is_outside_allowed), casts)
    given = None if begun.trial is None else load_later(plan, begun.trial, begun.temperatures)
    with long_search(out, is_resumed=long_work.is_resumed, address=long_work.address):
        with shown_progress() as progress:
            advice = undated(inputs, trial=given, **computing.work, progress=progress)
        try:
            advice = advice.dated(casts)
            if out is not None:
                say_written(advice.write(out, has_figures=shown.has_figures, has_all_choices=shown.has_all_choices))
        finally:  # neither a full disk nor the clock must cost the reader the answer
            print_answer(advice, is_json=computing.is_json, is_full=shown.is_full)
