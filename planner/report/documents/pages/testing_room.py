"""``testing-room.html``: the breaks in order of time, to print and hang beside the machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from markupsafe import Markup

from planner.laboratory.clock.break_slots import BreakTimes
from planner.report.documents.pages.page import page_environment, page_resource
from planner.report.sheets.break_rows import SITE_COMPANION, SpecimenRow, programme_rows
from planner.report.sheets.expected_strength import Expected, expected_at
from planner.report.text import words
from planner.terms.labels import age_label, clock_label
from planner.terms.plan.settings import Settings
from planner.terms.results.recommended.plotted_points import GrowthPoint
from planner.terms.results.recommended.recommendation import Recommendation

CLOCK, LIMIT = "%a %d %b %Y %H:%M", "%a %H:%M"
BROKEN_AT_AN_AGE = ("break", SITE_COMPANION)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Break:
    """Specimens that go into the machine one after the other, in words."""

    due: str
    window: str
    batch: str
    curing: str
    labels: tuple[str, ...]
    strength: str
    load: str


def render_testing_room(advice: Recommendation, settings: Settings, *, castings: Sequence[BreakTimes] = ()) -> str:
    """Write the page.

    Parameters
    ----------
    advice
        The recommendation.
    settings
        Of the plan: programme and laboratory.
    castings
        The recommended schedule on the clock; none gives ages instead of times.
    """
    rows = [row for row in programme_rows(advice, settings, castings) if row.purpose in BROKEN_AT_AN_AGE]
    rows.sort(key=_order)
    breaks = [_break(list(found), advice) for _, found in groupby(rows, key=_together)]
    return (
        page_environment()
        .get_template("testing_room.html.j2")
        .render(
            style=Markup(page_resource("page.css") + page_resource("testing_room.css")),
            title=words.clean(advice.title, limit=120) or "Breaks",
            mix=words.clean(advice.valid_for.mix, limit=60),
            geometry=words.clean(advice.valid_for.geometry, limit=60),
            breaks=breaks,
            is_dated=bool(castings),
        )
    )


def _order(row: SpecimenRow) -> tuple[float, float, str, str]:
    return 0.0 if row.due_at is None else row.due_at.timestamp(), row.age_h or 0.0, row.batch, row.purpose


def _together(row: SpecimenRow) -> tuple[object, ...]:
    return row.due_at, row.age_h, row.batch, row.purpose


def _break(rows: list[SpecimenRow], advice: Recommendation) -> _Break:
    first = rows[0]
    age_h = first.age_h or 0.0
    expected = expected_at(as_broken(advice), age_h=age_h, curing=first.curing, geometry=advice.valid_for.geometry)
    due = age_label(age_h) if first.due_at is None else f"{clock_label(first.due_at, CLOCK)} ({age_label(age_h)})"
    return _Break(
        due=due,
        window=_window(first),
        batch=words.clean(first.batch, limit=24),
        curing=first.curing,
        labels=tuple(words.clean(row.label, limit=32) for row in rows),
        strength=_range_words(expected, "strength"),
        load=_range_words(expected, "load"),
    )


def as_broken(advice: Recommendation) -> Sequence[GrowthPoint]:
    """Strengths of the earlier batches as the specimens show them, where the answer converted them."""
    conversion = None if advice.geometries is None else advice.geometries.conversion
    if conversion is None:
        return advice.growth
    return tuple(replace(point, strength_mpa=conversion.back(point.strength_mpa)) for point in advice.growth)


def _window(row: SpecimenRow) -> str:
    if row.earliest_at is not None and row.latest_at is not None:
        return f"{clock_label(row.earliest_at, LIMIT)} to {clock_label(row.latest_at, LIMIT)}"
    if row.earliest_h is not None and row.latest_h is not None:
        return f"{row.earliest_h:.2f} to {row.latest_h:.2f} h"
    return words.NONE


def _range_words(expected: Expected | None, what: str) -> str:
    """``24 MPa (19 to 30 MPa)``; a dash where earlier batches say nothing."""
    if expected is None:
        return words.NONE
    usual, low, high, unit = (
        (expected.strength_mpa, expected.low_mpa, expected.high_mpa, "MPa")
        if what == "strength"
        else (expected.load_kn, expected.low_kn, expected.high_kn, "kN")
    )
    if usual is None:
        return words.NONE
    return f"{usual:.0f} {unit}" + ("" if low is None or high is None else f" ({low:.0f} to {high:.0f} {unit})")
