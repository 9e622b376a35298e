"""Every file that ``--out`` gets, name and content."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from planner.terms.plan.settings import Laboratory, Settings
from planner.terms.problems import InputError, Problem

if TYPE_CHECKING:
    from planner.laboratory.clock.break_slots import BreakTimes
    from planner.terms.results.recommended.recommendation import Recommendation

CALENDAR = "breaks.ics"


def result_files(
    result: Recommendation,
    settings: Settings,
    *,
    castings: Sequence[BreakTimes],
    has_figures: bool,
    has_all_choices: bool,
    folder: Path,
) -> dict[str, bytes]:
    """Render everything.

    Parameters
    ----------
    castings
        The recommended schedule on the clock; none leaves the calendar out.
    has_figures
        Whether the pictures are wanted as files of their own.
    has_all_choices
        Whether every schedule is wanted in the table of choices, not only the best.
    folder
        Where an earlier calendar may stand, which this one then revises.
    """
    from planner.report.documents.choices_file import MOST_WRITTEN, write_choices
    from planner.report.documents.pages.page import render_page
    from planner.report.documents.pages.testing_room import render_testing_room
    from planner.report.documents.values.recommendation_document import recommendation_document, write_json
    from planner.report.documents.workbook import render_workbook

    page = render_page(result, castings=castings, laboratory=settings.laboratory_taken)
    files = {
        "recommendation.json": write_json(recommendation_document(result)).encode("utf-8"),
        "choices.csv": write_choices(result.choices, most=None if has_all_choices else MOST_WRITTEN),
        "report.html": page.encode("utf-8"),
        "workbook.xlsx": render_workbook(result, settings, castings=castings),
        "testing-room.html": render_testing_room(result, settings, castings=castings).encode("utf-8"),
    }
    if castings:
        files[CALENDAR] = _calendar(result, settings, castings, folder / CALENDAR)
    if has_figures:
        files |= _figures(result, castings, settings.laboratory_taken)
    return files


def _calendar(result: Recommendation, settings: Settings, castings: Sequence[BreakTimes], earlier: Path) -> bytes:
    from planner.report.documents.calendar_file import render_calendar

    try:
        return render_calendar(
            castings,
            settings.laboratory_taken,
            title=result.title,
            slip=result.slip,
            made_at=dt.datetime.now(dt.UTC),
            sequence=_sequence(earlier),
            companions=_companions(result, settings),
            waiting=result.waiting,
        )
    except ValueError as error:
        raise InputError([Problem(file=str(earlier), text=str(error))]) from error


def _companions(result: Recommendation, settings: Settings) -> list[tuple[float, int]]:
    """Companions on site of every trial batch: target ages and how many."""
    n_specimens = settings.programme_asked.companions_per_check
    return [(age_h, n_specimens) for age_h in result.target_ages_h] if n_specimens else []


def check_calendar(folder: Path) -> None:
    """Complain now, before anything is computed, if an earlier calendar in `folder` cannot be revised.

    Raises
    ------
    InputError
        Where it is no calendar, cannot be read, or has no number left for a revision.
    """
    earlier = folder / CALENDAR
    try:
        _sequence(earlier)
    except ValueError as error:
        raise InputError([Problem(file=str(earlier), text=str(error))]) from error


def _sequence(earlier: Path) -> int:
    from planner.report.documents.calendar_file import next_sequence

    if earlier.is_dir():
        raise ValueError("A folder stands where this file must go. Move it or choose another --out.")
    try:
        return next_sequence(earlier.read_bytes() if earlier.is_file() else None)
    except OSError as error:
        raise ValueError(
            f"The earlier calendar file cannot be read ({error.strerror or error}). Remove it or write to another "
            "folder."
        ) from error


def _figures(result: Recommendation, castings: Sequence[BreakTimes], laboratory: Laboratory) -> dict[str, bytes]:
    from planner.report.text.needed_library import OF_FIGURES

    OF_FIGURES.check()  # first: image_drawing cannot be imported without it
    from planner.report.figures import all_plots
    from planner.report.figures.drawing.image_drawing import draw_image
    from planner.report.figures.week import week_plots

    return {
        f"figure-{plot.name}.{kind}": draw_image(plot, kind)
        for plot in (*all_plots(result), *week_plots(castings, laboratory))
        for kind in ("png", "svg")
    }
