"""The recommended schedule on the clock, in sections for terminal and text."""

from __future__ import annotations

from collections.abc import Sequence

from ..laboratory.break_times import BreakSlot, BreakTimes
from ..terms.labels import age_label
from . import words
from .blocks import Bullets, Column, Section, Table

CLOCK = "%a %Y-%m-%d %H:%M"


def clock_account(castings: Sequence[BreakTimes]) -> tuple[Section, ...]:
    """A section for each casting: when each age is due, how far it may slip, what does not fit."""
    return tuple(_section(times) for times in castings)


def _section(times: BreakTimes) -> Section:
    columns = (
        Column(heading="age"),
        Column(heading="specimens", is_number=True),
        Column(heading="due"),
        Column(heading="not before"),
        Column(heading="not after"),
        Column(heading="hours"),
    )
    table = Table(columns=columns, rows=tuple(_row(slot) for slot in times.slots))
    name = f" {words.clean(times.slots[0].casting)}" if times.slots[0].casting else ""
    visits = f"{times.n_visits} visits, {times.n_outside} outside hours"
    heading = f"Cast{name} {times.cast_at.strftime(CLOCK)}: {visits}"
    warnings = (Bullets(tuple(words.clean(text) for text in times.warnings)),) if times.warnings else ()
    return Section(heading, (table, *warnings))


def _row(slot: BreakSlot) -> tuple[str, ...]:
    return (
        age_label(slot.age_h),
        str(slot.n_specimens),
        slot.due_at.strftime(CLOCK),
        slot.earliest_at.strftime(CLOCK),
        slot.latest_at.strftime(CLOCK),
        "inside" if slot.is_inside_hours else "outside",
    )
