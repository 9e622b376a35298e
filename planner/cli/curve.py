"""``test-ages curve``: the curve that a site holds, from the breaks of the trial batch; its site checks; a pour."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from planner.cli.options import Computing, PlanFile, text
from planner.cli.screen import print_answer, say_written, shown_progress

if TYPE_CHECKING:
    from planner.questions.answer import Answer

TrialFile = Annotated[
    Path | None,
    text("--trial", "FILE", "Breaks of the trial batches: a table, or the workbook of 'recommend', filled and saved."),
]
ChecksFile = Annotated[
    Path | None,
    text(
        "--site-checks",
        "FILE",
        "Site-cured companions of later pours, a batch a pour; rows in order of casting, or cast_at.",
    ),
]
PourFile = Annotated[
    Path | None, text("--pour", "FILE", "Early breaks of one later pour, which is read from them and the curve.")
]
IssuedFile = Annotated[
    Path | None, text("--curve", "FILE", "The curve.json that is checked or read; with --site-checks and --pour.")
]
TemperatureFile = Annotated[
    Path | None, text("--temperatures", "FILE", "Temperatures of all of them; not needed with a maturity column.")
]

TrialCasts = Annotated[
    list[str] | None,
    text("--cast", "TIME", "With --trial: what 'recommend' was given; a casting time can lead to another schedule."),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """The files that come after the plan."""

    trial: TrialFile = None
    curve: IssuedFile = None
    site_checks: ChecksFile = None
    pour: PourFile = None
    temperatures: TemperatureFile = None
    casts: TrialCasts = None


def curve(plan: PlanFile, after: After, computing: Computing) -> None:
    """Issue the curve of a broken trial batch with its sheet; judge its site checks; read a pour with early breaks."""
    from planner.questions.after_casting import CURVE_FILE, issue_curve, read_pour, site_checks
    from planner.report.documents.folder import check_folder

    out = computing.out
    n_given = sum(file is not None for file in (after.trial, after.site_checks, after.pour))
    if n_given > 1 or (n_given == 0 and after.curve is not None):
        raise typer.TyperException("Give exactly one of --trial, --site-checks and --pour.")
    if after.casts and after.trial is None:
        raise typer.TyperException("--cast dates a trial batch: give --trial with it.")
    if out is not None:
        check_folder(out)
    if n_given == 0 or after.trial is not None:
        if after.curve is not None:
            raise typer.TyperException("--trial issues a new curve: leave --curve out.")
        with shown_progress() as progress:
            issued = issue_curve(
                plan,
                after.trial,
                temperatures=after.temperatures,
                cast=after.casts or (),
                replacing=None if out is None else out / CURVE_FILE,
                allow_outside=computing.is_outside_allowed,
                **computing.work,
                progress=progress,
            )
        _show(issued, computing)
    elif after.site_checks is not None:
        if after.curve is None:
            raise typer.TyperException("--site-checks need the curve that is checked: give --curve curve.json.")
        judged = site_checks(
            plan,
            after.curve,
            after.site_checks,
            temperatures=after.temperatures,
            allow_outside=computing.is_outside_allowed,
        )
        _show(judged, computing)
    elif after.pour is not None:
        if after.curve is None:
            raise typer.TyperException("--pour needs the curve that the pour is read with: give --curve curve.json.")
        pour = read_pour(
            plan,
            after.curve,
            after.pour,
            temperatures=after.temperatures,
            allow_outside=computing.is_outside_allowed,
        )
        _show(pour, computing)


def _show(answer: Answer[Any], computing: Computing) -> None:
    try:
        if computing.out is not None:
            say_written(answer.write(computing.out))
    finally:  # a full disk must not cost the reader the answer
        print_answer(answer, is_json=computing.is_json)
