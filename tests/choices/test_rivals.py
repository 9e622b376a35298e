"""The schedules a recommendation stands beside."""

from __future__ import annotations

import numpy as np
import pytest

from planner.choices import customary_schedule, equal_gain_schedule, extra_choices, log_spaced_schedule
from planner.terms.problems import InputError
from planner.terms.schedule import Schedule

AGES_H = np.array([6.0, 12.0, 24.0, 72.0, 168.0, 336.0, 672.0])


def test_customary_is_1_3_7_14_28_days_or_what_there_is_of_them():
    assert AGES_H[list(customary_schedule(AGES_H))].tolist() == [24.0, 72.0, 168.0, 336.0, 672.0]
    assert AGES_H[list(customary_schedule(AGES_H[:4]))].tolist() == [24.0, 72.0]
    assert customary_schedule(np.array([5.0, 7.0])) == ()


def test_equal_gain_takes_the_ages_nearest_to_even_steps_of_strength():
    # Steps from 5 to 40 MPa in four: 5, 16.7, 28.3, 40; nearest 5, 18, 30, 40.
    typical = np.array([5.0, 11.0, 18.0, 25.0, 30.0, 38.0, 40.0])
    assert equal_gain_schedule(typical, np.arange(7), 4) == (0, 2, 4, 6)


def test_log_spaced_takes_even_ratios():
    ages_h = np.array([1.0, 2.0, 4.0, 7.0, 8.0, 16.0, 64.0])
    assert log_spaced_schedule(ages_h, np.arange(7), 3) == (0, 4, 6)  # 1, 8, 64


@pytest.mark.parametrize("n_ages", [2, 3, 5, 7, 9])
def test_rivals_hold_only_offered_ages_once_and_in_order(n_ages):
    rng = np.random.default_rng(3)  # property, not a chance: any seed must pass
    for _ in range(50):
        typical = np.sort(rng.uniform(1.0, 60.0, 7))
        offered = np.sort(rng.choice(7, size=rng.integers(2, 8), replace=False))
        for found in (equal_gain_schedule(typical, offered, n_ages), log_spaced_schedule(AGES_H, offered, n_ages)):
            assert len(found) == min(n_ages, len(offered))
            assert list(found) == sorted(set(found))
            assert set(found) <= set(offered.tolist())
            assert found[0] == offered[0]


def test_extra_schedules_are_found_by_their_ages():
    asked = [Schedule((12.0, 72.0), (3, 2)), Schedule((5.0, 72.0, 100.0), (1, 1, 1))]
    assert extra_choices(asked, AGES_H) == [((1, 3), (3, 2)), None]
    with pytest.raises(InputError, match="breaks at 5 h, 100 h, but no standard-cured specimen"):
        extra_choices(asked, AGES_H, must_fit=True)
