"""How far a break may slip, and from where it was moved into laboratory hours: the same words on every output."""

from __future__ import annotations

import math
from typing import Literal

from planner.laboratory.clock.break_slots import BreakSlot
from planner.report.text import words
from planner.report.text.blocks import Column, Section, Table
from planner.terms.labels import age_label, clock_label
from planner.terms.results.age_slips import BreakSlip, Slip
from planner.terms.results.recommended.recommendation import Recommendation

HEADING = "How far a break may slip"
IF_RECORDED = "if the actual age is recorded"
DAY_AND_TIME = "%a %d %b, %H:%M"
END_MARK = "^"
END_NOTE = f"{END_MARK}: what ends it is no loss, but the break beside it or the span of the recorded ages."
_NEIGHBOURS = {"earlier": "before", "later": "after"}


def slip_section(advice: Recommendation) -> Section:
    """Beside the standard's window, what the schedule itself would bear; empty where it cannot be computed."""
    slip = advice.slip
    if slip is None:
        return Section(HEADING, ())
    columns = (
        Column(heading="age"),
        Column(heading=f"permitted ({words.clean(slip.standard, limit=60)})"),
        Column(heading=f"earlier, {kept_words(slip)} kept"),
        Column(heading=f"later, {kept_words(slip)} kept"),
    )
    rows = tuple(
        (
            age_label(item.age_h),
            deviation_words(item.permitted_h),
            way_words(item, "earlier"),
            way_words(item, "later"),
        )
        for item in slip.breaks
    )
    note = (
        f"Kept: share of the schedule's own precision at the targets, one break slipping and the others on their "
        f"ages, {IF_RECORDED} and the curve is fitted with it. A break entered at its nominal age must keep the "
        "permitted window."
    )
    return Section(HEADING, (Table(columns=columns, rows=rows, note=note),))


def slip_note(slip: Slip) -> str:
    """What a column of slips means."""
    return (
        f"may slip: hours off the nominal age, earlier and later, that keep {kept_words(slip)} of the precision, "
        f"{IF_RECORDED}; a break entered at its nominal age must keep not before and not after. {END_NOTE}"
    )


def slip_cell(item: BreakSlip | None) -> str:
    """``-0.92 +0.51`` in hours, marked where no loss ends it."""
    if item is None:
        return words.NONE
    earlier = f"-{hours_text(item.earlier_h)}{END_MARK if item.earlier_ends != 'precision' else ''}"
    return f"{earlier} +{hours_text(item.later_h)}{END_MARK if item.later_ends != 'precision' else ''}"


def slip_sentence(slip: Slip, item: BreakSlip) -> str:
    """What a calendar says of one break."""
    ways = f"earlier by {way_words(item, 'earlier')}; later by {way_words(item, 'later')}"
    return (
        f"May slip off its nominal age {ways}: {kept_words(slip)} of the schedule's precision is kept, {IF_RECORDED}."
    )


def way_words(item: BreakSlip, way: Literal["earlier", "later"]) -> str:
    """How far in one direction, and what ends it where no loss does."""
    earlier = (item.earlier_h, item.earlier_ends)
    hours, ends = earlier if way == "earlier" else (item.later_h, item.later_ends)
    beside = _NEIGHBOURS[way]
    if ends == "neighbour":
        return f"{hours_text(hours)} h, to the break {beside} it"
    if ends == "records":
        return f"{hours_text(hours)} h, no age is recorded {beside} that"
    return f"{hours_text(hours)} h"


def slip_at(slip: Slip | None, age_h: float) -> BreakSlip | None:
    """The break of this age, None where nothing is known of it."""
    return None if slip is None else next((item for item in slip.breaks if item.age_h == age_h), None)


def kept_words(slip: Slip) -> str:
    """``95 %``."""
    return words.whole_share(slip.kept)


def hours_text(hours: float) -> str:
    """Hours rounded down, to two figures below 10 h: nothing is promised that would not hold."""
    decimals = 2 if hours < 1.0 else 1 if hours < 10.0 else 0
    floored = math.floor(hours * 10**decimals + 1e-9) / 10**decimals
    return f"{floored:.{decimals}f}".removesuffix(".00").removesuffix(".0")


def deviation_words(deviation_h: float | None) -> str:
    """``±5 min``, ``±6 h``."""
    if deviation_h is None:
        return words.NONE
    return f"±{deviation_h:.3g} h" if deviation_h >= 1.0 else f"±{60 * deviation_h:.2g} min"


def moved_words(slot: BreakSlot) -> str:
    """``moved into hours from Mon 15 Mar, 22:00``, nothing where the break stays at its age."""
    return f"moved into hours from {clock_label(slot.due_at, DAY_AND_TIME)}" if slot.is_moved else ""
