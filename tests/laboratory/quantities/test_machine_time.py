"""How many specimens the testing machines break within a permitted window, counted one after the other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.choices import enumerate_choices
from planner.laboratory.clock.break_times import break_times
from planner.read import load_plan
from planner.starter import STARTER
from planner.steps.allowed_choices import breakable
from planner.terms.plan.machine_time import most_specimens
from planner.terms.plan.settings import Budget, ChoiceLimits, Laboratory
from planner.terms.problems import NoScheduleError
from planner.terms.schedule import Schedule
from tests.laboratory.clock.test_break_times import MONDAY_22

STATED = Laboratory(minutes_per_break=8.0, is_break_time_stated=True)


@pytest.mark.parametrize(
    ("age_h", "minutes", "machines", "most"),
    [
        # ASTM C39, +-2 % at unlisted ages (memory): 9.6 minutes at 4 h, 19.2 at 8 h; 30 at 12 h, an hour at 24 h.
        (8.0, 8.0, 1, 2),  # 4 specimens would take 32 minutes
        (4.0, 2.4, 1, 4),  # filled to the last second
        (4.0, 2.41, 1, 3),
        (4.0, 10.0, 3, 0),
        (4.0, 4.0, 2, 4),
        (12.0, 10.0, 1, 3),
        (24.0, 8.0, 1, 7),
    ],
)
def test_counts_that_fit_are_those_whose_last_break_ends_in_time(
    age_h: float, minutes: float, machines: int, most: int
) -> None:
    laboratory = replace(STATED, minutes_per_break=minutes, machines=machines)
    assert most_specimens(age_h, laboratory) == most
    for count in range(1, 12):  # the clock says the same of every count
        (slot,) = break_times(Schedule((age_h,), (count,)), laboratory, cast_at=MONDAY_22).slots
        assert slot.fits_window == (count <= most)


def test_nothing_is_held_back_where_the_plan_does_not_say_how_long_a_break_takes() -> None:
    assert most_specimens(4.0, Laboratory(minutes_per_break=60.0)) is None
    assert most_specimens(5.0, replace(STATED, age_tolerances="24 h +-0.5 h")) is None, "an age not covered"


def test_only_schedules_that_can_be_broken_in_time_are_offered() -> None:
    ages_h = np.array([4.0, 8.0, 24.0])
    limits = ChoiceLimits(ages_h=(4.0, 8.0, 24.0), fewest_ages=1, most_ages=3, specimens_per_age=(1, 3))
    every = enumerate_choices(ages_h, np.arange(3), limits, Budget(specimens=9))
    settings = replace(load_plan(STARTER / "plan.toml").settings, laboratory=STATED)
    kept = breakable(every, settings)
    # 4 h holds one break of 8 minutes, 8 h two, 24 h three: (1 + 1)(2 + 1)(3 + 1) - 1 schedules of (3 + 1)^3 - 1.
    assert (len(every), len(kept)) == (63, 23)
    counts = kept.specimens_by_age()
    assert counts.max(axis=0).tolist() == [1, 2, 3]
    assert breakable(every, replace(settings, laboratory=None)) is every
    with pytest.raises(NoScheduleError, match="at 90 minutes a break on 1 testing machine"):
        breakable(every, replace(settings, laboratory=replace(STATED, minutes_per_break=90.0)))
