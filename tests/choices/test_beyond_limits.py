"""Every limit of a plan that a given schedule may not keep, one at a time."""

from __future__ import annotations

import pytest

from planner.choices import beyond_limits
from planner.terms.plan.settings import Budget, ChoiceLimits, Settings, Target
from planner.terms.schedule import Schedule

SETTINGS = Settings(
    target=Target(ages_h=(24.0,), tolerance=0.1),
    choices=ChoiceLimits(
        ages_h=(4.0, 6.0, 12.0, 24.0, 72.0, 672.0),
        fewest_ages=2,
        most_ages=3,
        specimens_per_age=(2, 4),
        required_ages_h=(24.0,),
        minimum_gap_h=3.0,
    ),
    budget=Budget(specimens=10, latest_age_h=72.0),
    final_set_h=5.0,
)


@pytest.mark.parametrize(
    ("ages_h", "specimens", "said"),
    [
        ((12.0, 24.0, 72.0), (3, 4, 4), "11 specimens, [budget] specimens is 10"),
        ((12.0, 24.0, 672.0), (2, 2, 2), "a break at 28 d, latest_age is 3 d"),
        ((24.0,), (4,), "1 ages, the plan asks for 2 to 3"),
        ((12.0, 24.0), (1, 5), "specimens_per_age [2, 4] at 12 h, 1 d"),
        ((12.0, 72.0), (2, 2), "no break at 1 d, which required_ages asks for"),
        ((18.0, 24.0), (2, 2), "breaks at 18 h, not among [choices] ages"),
        ((4.0, 24.0), (2, 2), "a break before final set at 5 h"),
    ],
)
def test_each_limit_is_named(ages_h: tuple[float, ...], specimens: tuple[int, ...], said: str) -> None:
    (found,) = beyond_limits(Schedule(ages_h, specimens), SETTINGS)
    assert said in found


def test_breaks_too_close_are_named() -> None:
    found = beyond_limits(Schedule((22.0, 24.0), (2, 2)), SETTINGS)
    assert found[-1] == "breaks closer than minimum_gap, 3 h"


def test_a_schedule_within_the_limits_is_told_nothing() -> None:
    assert beyond_limits(Schedule((6.0, 24.0, 72.0), (2, 4, 4)), SETTINGS) == ()
