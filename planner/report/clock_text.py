"""The recommended schedule on the clock, in sections for terminal and text."""

from __future__ import annotations

from collections.abc import Sequence

from ..laboratory.break_times import BreakSlot, BreakTimes
from ..terms.labels import age_label
from ..terms.slip import Slip
from . import words
from .blocks import Bullets, Column, Section, Table
from .slip_text import moved_words, slip_at, slip_cell, slip_note

CLOCK = "%a %Y-%m-%d %H:%M"
LIMIT = "%a %d %b %H:%M"


def clock_account(castings: Sequence[BreakTimes], slip: Slip | None = None) -> tuple[Section, ...]:
    """A section for each casting: when each age is due, how far it may slip, what does not fit."""
    return tuple(_section(times, slip) for times in castings)


def _section(times: BreakTimes, slip: Slip | None) -> Section:
    columns = (
        Column(heading="age"),
        Column(heading="specimens", is_number=True),
        Column(heading="due"),
        Column(heading="not before"),
        Column(heading="not after"),
        *(() if slip is None else (Column(heading="may slip, h"),)),
        Column(heading="hours"),
    )
    rows = tuple(_row(slot, slip) for slot in times.slots)
    table = Table(columns=columns, rows=rows, note="" if slip is None else slip_note(slip))
    name = f" {words.clean(times.slots[0].casting)}" if times.slots[0].casting else ""
    visits = f"{times.n_visits} visits, {times.n_outside} outside hours"
    heading = f"Cast{name} {times.cast_at.strftime(CLOCK)}: {visits}"
    said = (*(_moved(slot) for slot in times.slots if slot.is_moved), *map(words.clean, times.warnings))
    return Section(heading, (table, *((Bullets(said),) if said else ())))


def _row(slot: BreakSlot, slip: Slip | None) -> tuple[str, ...]:
    return (
        age_label(slot.age_h),
        str(slot.n_specimens),
        (slot.starts_at if slot.is_moved else slot.due_at).strftime(CLOCK),
        slot.earliest_at.strftime(LIMIT),
        slot.latest_at.strftime(LIMIT),
        *(() if slip is None else (slip_cell(slip_at(slip, slot.age_h)),)),
        "moved" if slot.is_moved else "inside" if slot.is_inside_hours else "outside",
    )


def _moved(slot: BreakSlot) -> str:
    return (
        f"{age_label(slot.age_h)}: {moved_words(slot)}, its nominal age, which the permitted window allows. "
        f"Breaking takes from {slot.starts_at:%H:%M} to {slot.ends_at:%H:%M}."
    )
