"""Visits where no laboratory hours are given, against a clock that is tried at every second of a day."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.laboratory.casting.any_hour import most_visits_at_any_hour
from planner.laboratory.clock.break_times import break_times
from planner.laboratory.costs.estimate import estimate
from planner.report.accounts.full_account import any_hour_words
from planner.terms.plan.settings import Laboratory, ProgrammeSettings
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_count import Estimate
from planner.terms.schedule import Schedule

DAY_S = 86400
NOTHING = ProgrammeSettings(instrumented=0)


def estimated(*ages_h: float) -> Estimate:
    return estimate(
        ChoiceRole.RECOMMENDED,
        Schedule(ages_h, (2,) * len(ages_h)),
        programme=NOTHING,
        costs=None,
        laboratory=None,
        within_test_cv=(0.03,) * len(ages_h),
    )


# 60 schedules against 86,400 castings each; whole seconds on both sides, no false alarm
@given(st.lists(st.integers(1, 30 * DAY_S), min_size=1, max_size=6, unique=True))
def test_no_second_of_the_day_needs_more_visits(ages_s: list[int]) -> None:
    ages = np.array(sorted(ages_s))
    days = (np.arange(DAY_S)[:, None] + ages) // DAY_S
    n_visits = 1 + (np.diff(days, axis=1) > 0).sum(axis=1)
    schedule = Schedule(tuple((ages / 3600.0).tolist()), (1,) * len(ages))
    assert most_visits_at_any_hour(schedule) == n_visits.max()


@pytest.mark.parametrize(
    ("ages_h", "fewest", "words"),
    [
        # 24 h apart is always another day; 6 h apart may or may not be.
        ((24.0, 48.0), 2, "whatever the casting hour"),
        ((18.0, 24.0, 72.0), 2, "up to 3 by the casting hour, one for each calendar day with a break"),
        ((6.0,), 1, "whatever the casting hour"),
    ],
)
def test_whatever_the_casting_hour_is_said_only_where_it_is_so(
    ages_h: tuple[float, ...], fewest: int, words: str
) -> None:
    found = estimated(*ages_h)
    assert found.n_visits == fewest
    assert any_hour_words(found) == words
    counted = {
        break_times(found.schedule, Laboratory(), cast_at=dt.datetime(2027, 3, 1) + dt.timedelta(minutes=m)).n_visits
        for m in range(0, 1440, 7)
    }
    assert (min(counted), max(counted)) == (found.n_visits, found.n_visits_at_most)


def test_in_a_laboratory_with_hours_the_casting_hour_is_named_instead() -> None:
    (first, *_), hours = (6.0, 24.0), Laboratory(opens=dt.time(7), closes=dt.time(17))
    costs = estimate(
        ChoiceRole.RECOMMENDED,
        Schedule((first,), (2,)),
        programme=NOTHING,
        costs=None,
        laboratory=hours,
        within_test_cv=(0.03,),
    )
    assert (costs.n_visits_at_most, costs.casting) == (None, "Monday 07:00")
