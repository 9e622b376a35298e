"""Schedules counted without listing them, against listing every one by brute force."""

from __future__ import annotations

from itertools import combinations, pairwise, product

import numpy as np
import pytest

from planner.choices.count_choices import count_choices, too_many
from planner.choices.enumerate import enumerate_choices
from planner.terms.plan.settings import Budget, ChoiceLimits
from planner.terms.problems import NoScheduleError


def listed(ages_h: tuple[float, ...], limits: ChoiceLimits, budget: int) -> int:
    """Count by trying every set of ages and every pattern of specimens."""
    fewest, most = limits.specimens_per_age
    n_choices = 0
    for n_ages in range(limits.fewest_ages, limits.most_ages + 1):
        for chosen in combinations(ages_h, n_ages):
            is_spaced = all(b - a >= limits.minimum_gap_h for a, b in pairwise(chosen))
            if set(limits.required_ages_h) <= set(chosen) and is_spaced:
                n_choices += sum(sum(each) <= budget for each in product(range(fewest, most + 1), repeat=n_ages))
    return n_choices


@pytest.mark.parametrize("seed", range(40))  # nothing is drawn at test time: the plans alone are random
def test_the_count_is_that_of_the_list(seed: int) -> None:
    generator = np.random.default_rng(seed)
    ages_h = np.cumsum(generator.integers(1, 6, int(generator.integers(2, 8)))).astype(float)
    fewest_ages, fewest = (int(n) for n in generator.integers(1, 4, 2))
    limits = ChoiceLimits(
        ages_h=tuple(ages_h.tolist()),
        fewest_ages=fewest_ages,
        most_ages=fewest_ages + int(generator.integers(0, 4)),
        specimens_per_age=(fewest, fewest + int(generator.integers(0, 3))),
        required_ages_h=tuple(ages_h[generator.random(len(ages_h)) < 0.2].tolist()),
        minimum_gap_h=float(generator.integers(0, 6)),
    )
    budget = int(generator.integers(1, 15))
    expected = listed(limits.ages_h, limits, budget)
    assert count_choices(ages_h, limits, Budget(specimens=budget)) == expected
    if expected:
        assert len(enumerate_choices(ages_h, np.arange(len(ages_h)), limits, Budget(specimens=budget))) == expected
    else:
        with pytest.raises(NoScheduleError):
            enumerate_choices(ages_h, np.arange(len(ages_h)), limits, Budget(specimens=budget))


def test_sets_that_a_gap_leaves_are_found_without_trying_all_others() -> None:
    # 60 ages an hour apart, ten of them at least 6 h apart: C(60 - 9 * 5, 10) sets, where C(60, 10) is 75 milliard.
    ages_h = np.arange(1.0, 61.0)
    limits = ChoiceLimits(
        ages_h=tuple(ages_h), fewest_ages=10, most_ages=10, specimens_per_age=(1, 1), minimum_gap_h=6.0
    )
    assert len(enumerate_choices(ages_h, np.arange(60), limits, Budget(specimens=10))) == 3_003


def test_numbers_beyond_reading_are_rounded() -> None:
    assert "schedules of 40 ages" in too_many(10**64, 40)
    assert "about 10^64" in too_many(3 * 10**64, 40)
    assert "21,000,000 schedules" in too_many(21_000_000, 12)
