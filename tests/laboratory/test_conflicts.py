"""Castings that want the machines at the same time."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import pytest

from planner.laboratory.break_times import BreakSlot, break_times
from planner.laboratory.conflicts import conflicts
from planner.terms.schedule import Schedule
from planner.terms.settings import Laboratory

ALWAYS = Laboratory()


def slots(casting: str, hour: float, *ages_h: float, laboratory: Laboratory = ALWAYS) -> tuple[BreakSlot, ...]:
    schedule = Schedule(ages_h, (3,) * len(ages_h))
    cast_at = dt.datetime(2027, 3, 1) + dt.timedelta(hours=hour)
    return break_times(schedule, laboratory, cast_at=cast_at, casting=casting).slots


def test_castings_far_enough_apart_do_not_meet() -> None:
    assert conflicts([*slots("A", 8, 12.0, 24.0), *slots("B", 8.5, 12.0, 24.0)], 1) == ()


def test_ages_of_one_casting_are_no_conflict() -> None:
    assert conflicts(slots("A", 8, 12.0, 12.2), 1) == ()


def test_a_narrow_window_cannot_be_shared() -> None:
    # 12 h +-15 minutes (ASTM C39, from memory) holds three breaks of 10 minutes, not six.
    (clash,) = conflicts([*slots("A", 8, 12.0), *slots("B", 8, 12.0)], 1)
    assert not clash.is_solvable
    assert [slot.casting for slot in clash.slots] == ["A", "B"]
    assert "A at 12 h, B at 12 h need the machines at the same time, 2027-03-01 20:00" in clash.text
    assert "cast one batch at another hour" in clash.text


def test_a_second_machine_solves_it() -> None:
    two = Laboratory(machines=2)
    both = [*slots("A", 8, 12.0, laboratory=two), *slots("B", 8, 12.0, laboratory=two)]
    (clash,) = conflicts(both, 2)
    assert clash.is_solvable  # six breaks on two machines: 30 minutes, just the window, begun early
    assert [f"{turn.starts_at:%H:%M}" for turn in clash.turns] == ["19:45"] * 2 + ["19:55"] * 2 + ["20:05"] * 2


def test_a_wide_window_is_shared_by_turns() -> None:
    # 3 d +-2 h: six breaks take an hour, one casting after the other from the planned start.
    (clash,) = conflicts([*slots("A", 8, 72.0), *slots("B", 8.1, 72.0)], 1)
    assert clash.is_solvable
    assert [(turn.casting, f"{turn.starts_at:%d %H:%M}") for turn in clash.turns] == [
        ("A", "04 07:45"),
        ("A", "04 07:55"),
        ("A", "04 08:05"),
        ("B", "04 08:15"),
        ("B", "04 08:25"),
        ("B", "04 08:35"),
    ]
    assert "Taking turns, all stay inside" in clash.text


def test_breaks_start_early_where_that_alone_keeps_the_windows() -> None:
    # A is due at 20:00 with +-40 minutes, B at 20:10 with +-20: B's three must end by 20:30, A's by 20:40.
    own = Laboratory(age_tolerances="12 h +-40 min, 11 h +-20 min")
    a = slots("A", 8, 12.0, laboratory=own)
    b = slots("B", 9 + 10 / 60, 11.0, laboratory=own)
    (clash,) = conflicts([*a, *b], 1)
    assert clash.is_solvable
    limits = {slot.casting: slot for slot in clash.slots}
    for turn in clash.turns:
        slot = limits[turn.casting]
        assert slot.earliest_at <= turn.starts_at
        assert turn.starts_at + dt.timedelta(minutes=10) <= slot.latest_at
    starts = sorted(turn.starts_at for turn in clash.turns)
    assert all(b - a >= dt.timedelta(minutes=10) for a, b in pairwise(starts))


def test_a_machine_is_needed() -> None:
    with pytest.raises(ValueError, match="At least one machine is needed, given 0"):
        conflicts((), 0)
