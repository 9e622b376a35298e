"""Every allowed schedule once: against a plain loop over all counts, with every limit."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest

from planner.choices import count_patterns, enumerate_choices, offered_ages, spread_evenly
from planner.terms.plan.settings import Budget, ChoiceLimits
from planner.terms.problems import NoScheduleError

AGES_H = np.array([4.0, 6.0, 12.0, 24.0, 72.0, 672.0])
TYPICAL_MPA = np.array([2.0, 5.0, 12.0, 20.0, 30.0, 40.0])


def plain_loop(ages_h, offered, limits, budget):
    """Every vector of counts, absent or within the limits, kept where no limit speaks against it."""
    kept = set()
    counts = range(limits.specimens_per_age[0], limits.specimens_per_age[1] + 1)
    for vector in product((0, *counts), repeat=len(ages_h)):
        broken = [i for i, count in enumerate(vector) if count]
        gaps_h = [ages_h[b] - ages_h[a] for a, b in pairwise(broken)]
        if (
            limits.fewest_ages <= len(broken) <= limits.most_ages
            and all(i in offered for i in broken)
            and sum(vector) <= budget.specimens
            and all(any(ages_h[i] == age for i in broken) for age in limits.required_ages_h)
            and all(gap >= limits.minimum_gap_h for gap in gaps_h)
        ):
            kept.add(vector)
    return kept


@pytest.mark.parametrize(
    ("changes", "budget"),
    [
        ({}, {"specimens": 24}),
        ({}, {"specimens": 7}),
        ({"specimens_per_age": (1, 4)}, {"specimens": 8}),
        ({"fewest_ages": 2, "most_ages": 2}, {"specimens": 6}),
        ({"required_ages_h": (12.0, 672.0)}, {"specimens": 12}),
        ({"minimum_gap_h": 8.0}, {"specimens": 12}),
        ({"minimum_gap_h": 6.0}, {"specimens": 12}),
        ({"least_strength_mpa": 5.0}, {"specimens": 12}),
        ({"most_ages": 9}, {"specimens": 20, "latest_age_h": 72.0}),
        (
            {"required_ages_h": (24.0,), "minimum_gap_h": 6.0, "least_strength_mpa": 3.0, "specimens_per_age": (1, 2)},
            {"specimens": 6, "latest_age_h": 100.0},
        ),
    ],
)
def test_it_is_what_a_plain_loop_keeps(changes, budget):
    limits = ChoiceLimits(
        **{"ages_h": tuple(AGES_H), "fewest_ages": 3, "most_ages": 4, "specimens_per_age": (2, 3), **changes}
    )
    spent = Budget(**budget)
    offered = offered_ages(AGES_H, np.ones(6, dtype=bool), TYPICAL_MPA, limits, spent)
    choices = enumerate_choices(AGES_H, offered, limits, spent)
    rows = [tuple(int(n) for n in row) for row in choices.specimens_by_age()]
    assert len(rows) == len(set(rows)) == len(choices)
    assert set(rows) == plain_loop(AGES_H, set(offered.tolist()), limits, spent)
    for which in (0, len(choices) // 2, len(choices) - 1):
        schedule = choices.schedule(which)
        held = {age: n for age, n in zip(AGES_H, rows[which], strict=True) if n}
        assert dict(zip(schedule.ages_h, schedule.specimens, strict=True)) == held
        assert choices.n_specimens[which] == schedule.n_specimens
        assert choices.last_age_h[which] == schedule.last_age_h
        assert choices.has_age()[which].tolist() == [n > 0 for n in rows[which]]


def test_the_order_is_fixed():
    limits = ChoiceLimits(ages_h=(4.0, 6.0, 12.0), fewest_ages=2, most_ages=3, specimens_per_age=(1, 2))
    choices = enumerate_choices(np.array([4.0, 6.0, 12.0]), np.arange(3), limits, Budget(specimens=3))
    assert [tuple(row) for row in choices.specimens_by_age().tolist()] == [
        (1, 1, 0), (1, 2, 0), (2, 1, 0), (1, 0, 1), (1, 0, 2), (2, 0, 1), (0, 1, 1), (0, 1, 2), (0, 2, 1), (1, 1, 1),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("n_ages", "budget", "per_age", "wanted"),
    [
        (3, 9, (2, 4), (3, 3, 3)),
        (4, 10, (2, 3), (3, 3, 2, 2)),
        (3, 100, (2, 3), (3, 3, 3)),
        (5, 10, (2, 3), (2, 2, 2, 2, 2)),
        (5, 9, (2, 3), None),
        (1, 1, (1, 1), (1,)),
    ],
)
def test_spread_evenly(n_ages, budget, per_age, wanted):
    assert spread_evenly(n_ages, budget, per_age) == wanted


@pytest.mark.parametrize(
    ("n_ages", "budget", "per_age"), [(3, 7, (2, 3)), (4, 8, (1, 4)), (2, 3, (2, 3)), (3, 99, (1, 3))]
)
def test_count_patterns_are_a_plain_product(n_ages, budget, per_age):
    found = [tuple(row) for row in count_patterns(n_ages, budget, per_age).tolist()]
    counts = range(per_age[0], per_age[1] + 1)
    assert found == [row for row in product(counts, repeat=n_ages) if sum(row) <= budget]


@pytest.mark.parametrize(
    ("changes", "budget", "message"),
    [
        ({"required_ages_h": (5.0,)}, 12, "Required ages cannot be broken: 5 h"),
        ({"fewest_ages": 7, "most_ages": 8}, 99, "Only 6 candidate ages can be broken, but fewest_ages is 7"),
        ({}, 5, "3 ages with 2 specimens each need 6 specimens, but the budget is 5"),
        ({"minimum_gap_h": 400.0}, 12, "keeps 400 h between breaks"),
    ],
)
def test_it_names_the_limit_that_empties_the_list(changes, budget, message):
    limits = ChoiceLimits(
        **{"ages_h": tuple(AGES_H), "fewest_ages": 3, "most_ages": 4, "specimens_per_age": (2, 3), **changes}
    )
    with pytest.raises(NoScheduleError, match=message):
        enumerate_choices(AGES_H, np.arange(6), limits, Budget(specimens=budget))


def test_a_search_too_large_is_refused_with_its_size():
    ages_h = np.arange(1.0, 19.0)
    limits = ChoiceLimits(ages_h=tuple(ages_h), fewest_ages=3, most_ages=9, specimens_per_age=(1, 4))
    with pytest.raises(NoScheduleError, match="more than the 20,000,000 that can be searched"):
        enumerate_choices(ages_h, np.arange(18), limits, Budget(specimens=99))
