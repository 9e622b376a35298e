"""The matrix count of attendances against a plain walk over minutes of the week."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from planner.laboratory.casting.visits import count_visits, visit_table
from planner.terms.plan.settings import Laboratory
from planner.terms.plan.tolerances import permitted_deviation_h

ANY_HOUR = (dt.time(0), dt.time(0))  # casting round the clock on working days


def open_spells(opens_min: int, closes_min: int, days: tuple[int, ...]) -> list[tuple[int, int, int]]:
    """Spells (first minute, last minute, number of the day) over eight weeks around the reference week."""
    length = (closes_min - opens_min) % 1440 or 1440
    return [(day * 1440 + opens_min, day * 1440 + opens_min + length, day) for day in range(-7, 49) if day % 7 in days]


def minute_of(cast_at: dt.datetime) -> int:
    """Minutes since the beginning of the reference week, a Monday."""
    return 1440 * cast_at.weekday() + 60 * cast_at.hour + cast_at.minute


def day_of(due: int, deviation: float, needed: int, spells: list[tuple[int, int, int]]) -> int | None:
    """Day of the spell a break begins and ends in about its age, or is moved to; None outside. All are tried."""
    centred = due - needed / 2
    early, late = min(due - deviation, centred), max(due + deviation, centred + needed)
    # Where one spell ends as the next begins the later one counts, and nobody goes home in between.
    own = [day for first, end, day in spells if first <= due <= end][-1:]
    found = []
    for first, end, day in spells:
        while any(other[1] == first for other in spells if other[0] < first and day in own):
            first = next(other[0] for other in spells if other[1] == first and other[0] < first)
        while any(other[0] == end for other in spells if other[1] > end and day in own):
            end = next(other[1] for other in spells if other[0] == end and other[1] > end)
        low, high = max(first, early), min(end, late) - needed
        if low <= high:
            found.append((day not in own, abs(min(max(centred, low), high) - centred), day))
    return min(found)[2] if found else None


def walk(breaks: list[tuple[int, float, int]], spells: list[tuple[int, int, int]]) -> tuple[int, int]:
    """Attendances and those outside hours, one (due, deviation, minutes) after the other."""
    n_visits = n_outside = 0
    last: tuple[str, int] | None = None
    for due, deviation, needed in breaks:
        day = day_of(due, deviation, needed, spells)
        if day is not None:
            n_visits += last != ("day", day)
            last = ("day", day)
        else:
            is_same_call = last is not None and last[0] == "call" and due - last[1] <= 60
            n_visits += not is_same_call
            n_outside += not is_same_call
            last = ("call", due)
    return n_visits, n_outside


@pytest.mark.parametrize("days", [(0, 1, 2, 3, 4), (5, 6), tuple(range(7)), ()])
@pytest.mark.parametrize(("opens", "closes"), [(8, 17), (20, 6), (0, 0), (6, 0), (12, 13)])
def test_counts_equal_a_plain_walk(opens: int, closes: int, days: tuple[int, ...]) -> None:
    # Seeded; whole numbers on both sides, no false alarm.
    rng = np.random.default_rng(100 * opens + closes)
    laboratory = Laboratory(opens=dt.time(opens), closes=dt.time(closes), days=days, casting_hours=ANY_HOUR)
    ages_h = (*sorted(rng.choice(np.arange(1, 96), 9, replace=False) / 2.0), 168.0, 672.0)
    specimens = tuple(int(count) for count in rng.integers(1, 7, len(ages_h)))
    deviation = [60 * permitted_deviation_h(age, standard="ASTM C39") for age in ages_h]
    has_age = rng.random((5, len(ages_h))) < 0.6
    has_age[:, -1] = True
    table = visit_table(ages_h, laboratory, specimens=specimens)
    counts = count_visits(has_age, table)
    spells = open_spells(60 * opens, 60 * closes, days)
    for row in range(5):
        for slot in range(0, len(table.cast_at), 13):
            breaks = [
                (minute_of(table.cast_at[slot]) + round(60 * ages_h[age]), deviation[age], 10 * specimens[age])
                for age in np.flatnonzero(has_age[row])
            ]
            assert (counts.n_visits[row, slot], counts.n_outside[row, slot]) == walk(breaks, spells)


def test_the_day_of_each_break() -> None:
    table = visit_table((1.0, 25.0), Laboratory(opens=dt.time(8), closes=dt.time(17), casting_hours=ANY_HOUR))
    monday = table.cast_at[0].toordinal()
    eight = 16  # Monday 08:00
    assert table.day[eight].tolist() == [monday, monday + 1]
    assert table.day[0].tolist() == [-1, -1]
    assert not table.is_outside[eight].any()
    assert table.is_casting_outside[0]


def test_a_table_is_kept_and_cannot_be_spoiled() -> None:
    table = visit_table((1.0, 2.0), Laboratory())
    assert visit_table((1.0, 2.0), Laboratory()) is table
    with pytest.raises(ValueError, match="read-only"):
        table.is_outside[0, 0] = True
