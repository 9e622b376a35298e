"""The recommended schedule on the clock, in sections for terminal and text."""

from __future__ import annotations

from collections.abc import Sequence

from planner.laboratory.clock.break_slots import BreakSlot, BreakTimes
from planner.laboratory.costs.cost_sums import cost_when_cast
from planner.report.accounts.clock.slip_account import moved_words, slip_at, slip_cell, slip_note
from planner.report.accounts.clock.window_account import expected_words
from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Paragraph, Section, Table
from planner.terms.labels import age_label, clock_label
from planner.terms.results.age_slips import Slip
from planner.terms.results.recommended.recommendation import Recommendation

CLOCK = "%a %Y-%m-%d %H:%M"
START, OTHER_DAY, SAME_DAY = "%a %d %b %H:%M", "%a %H:%M", "%H:%M"  # the heading has the year
START_NOTE = "start: the first specimen goes in; as far as hours allow, those of an age are spread evenly about it."


def clock_account(castings: Sequence[BreakTimes], advice: Recommendation) -> tuple[Section, ...]:
    """A section for each casting: when each age starts, how far it may slip, what does not fit, what it costs."""
    return tuple(_section(times, advice, is_alone=len(castings) == 1) for times in castings)


def casting_words(times: BreakTimes, advice: Recommendation, *, is_alone: bool = True) -> str:
    """``4 visits, 3 outside hours, 2282 EUR``: what this casting hour asks; no money where it is one of several."""
    cost = None if advice.estimate is None or not is_alone else cost_when_cast(advice.estimate, times)
    hours = "laboratory always open" if times.is_always_open else f"{times.n_outside} outside hours"
    priced = "" if cost is None else f", {words.money(cost, advice.currency)}"
    return f"{times.n_visits} {'visit' if times.n_visits == 1 else 'visits'}, {hours}{priced}"


def _section(times: BreakTimes, advice: Recommendation, *, is_alone: bool) -> Section:
    slip = advice.slip
    columns = (
        Column(heading="age"),
        Column(heading="specimens", is_number=True),
        Column(heading="start"),
        Column(heading="not before"),
        Column(heading="not after"),
        *(() if slip is None else (Column(heading="may slip, h"),)),
        *(() if times.is_always_open else (Column(heading="hours"),)),
    )
    rows = tuple(_row(slot, slip, has_hours=not times.is_always_open) for slot in times.slots)
    table = Table(columns=columns, rows=rows, note=START_NOTE if slip is None else f"{START_NOTE} {slip_note(slip)}")
    name = f" {words.clean(times.slots[0].casting)}" if times.slots[0].casting else ""
    heading = f"Cast{name} {clock_label(times.cast_at, CLOCK)}: {casting_words(times, advice, is_alone=is_alone)}"
    said = (*(_moved(slot) for slot in times.slots if slot.is_moved), *map(words.clean, times.warnings))
    expected = expected_words(advice.waiting, times)
    windows = (Paragraph("Strengths to be expected of concrete cast then:"), Bullets(expected)) if expected else ()
    return Section(heading, (table, *((Bullets(said),) if said else ()), *windows))


def _row(slot: BreakSlot, slip: Slip | None, *, has_hours: bool) -> tuple[str, ...]:
    return (
        age_label(slot.age_h),
        str(slot.n_specimens),
        clock_label(slot.starts_at, START),
        *(
            clock_label(at, SAME_DAY if at.date() == slot.starts_at.date() else OTHER_DAY)
            for at in (slot.earliest_at, slot.latest_at)
        ),
        *(() if slip is None else (slip_cell(slip_at(slip, slot.age_h)),)),
        *(("moved" if slot.is_moved else "inside" if slot.is_inside_hours else "outside",) if has_hours else ()),
    )


def _moved(slot: BreakSlot) -> str:
    return (
        f"{age_label(slot.age_h)}: {moved_words(slot)}, its nominal age, which the permitted window allows. "
        f"Breaking takes from {clock_label(slot.starts_at, SAME_DAY)} to {clock_label(slot.ends_at, SAME_DAY)}."
    )
