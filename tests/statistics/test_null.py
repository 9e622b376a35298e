"""Where all choices are equally good, choosing must look no better than it is.

Every choice reads one early age and 24 h, the early ages are a few minutes apart and nothing but noise
distinguishes them: whatever wins, wins by luck.
"""

from __future__ import annotations

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.terms.plan.settings import Budget, ChoiceLimits, Plan, Settings, Target
from planner.terms.records import Break, Records
from planner.verdict.selection.tie_rule import apply_rule
from planner.verdict.statistics.bootstrap_weights import leave_one_out_counts

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("choosing_alone")]

EARLY_H = tuple(round(8.0 + 0.01 * k, 2) for k in range(12))
LATE_H, TARGET_H = 24.0, 12.0
DEPARTURE_CV, COMPANION_CV = 0.08, 0.002
N_BATCHES, N_PROGRAMMES = 6, 40


def null_programme(seed: int) -> Plan:
    """Strength 40 MPa at every age; each cell of each batch departs from it on its own."""
    generator = np.random.default_rng((71, seed))
    breaks = tuple(
        Break(
            batch=f"N{batch + 1}", mix="mix", curing="standard", age_h=age_h, tested_h=age_h,
            strength_mpa=float(level * (1.0 + COMPANION_CV * generator.standard_normal())),
        )
        for batch in range(N_BATCHES)
        for age_h in (*EARLY_H, LATE_H, TARGET_H)
        for level in [40.0 * (1.0 + (age_h != TARGET_H) * DEPARTURE_CV * generator.standard_normal())]
        for _specimen in range(3)
    )  # fmt: skip
    settings = Settings(
        target=Target(ages_h=(TARGET_H,), tolerance=0.10),
        choices=ChoiceLimits(
            ages_h=(*EARLY_H, LATE_H), fewest_ages=2, most_ages=2, specimens_per_age=(3, 3),
            required_ages_h=(LATE_H,),
        ),
        budget=Budget(specimens=6),
        curves=("piecewise linear",),
    )  # fmt: skip
    return Plan(settings=settings, records=Records(breaks=breaks))


def test_choosing_among_equals_is_judged_fairly() -> None:
    # share of the early age in the prediction: (24 - 12) / (24 - 8)
    true = DEPARTURE_CV**2 * (0.75**2 + 0.25**2)
    apparent, nested = [], []
    for seed in range(N_PROGRAMMES):
        result = recommend(null_programme(seed), n_draws=5, workers=1)
        assert result.honest.best_nested_rms is not None
        apparent.append(result.best.error.rms**2)
        nested.append(result.honest.best_nested_rms**2)
    # Each programme's nested mean square has a relative deviation of about sqrt(2/6) = .58, 40 of them .09, and
    # the band is four of these either way: false alarm 1 in 10,000. Apparent measured about .3
    assert 0.63 < np.mean(nested) / true < 1.37
    assert np.mean(apparent) / true < 0.6


def test_the_rule_itself_is_fair_on_pure_noise() -> None:
    generator = np.random.default_rng(72)
    counts = np.concatenate((leave_one_out_counts(N_BATCHES), np.ones((1, N_BATCHES), dtype=np.int64)))
    flat = np.full((50, N_BATCHES), 1e-9)
    never = np.zeros((50, N_BATCHES), dtype=bool)
    ratios = []
    for _ in range(2_000):
        loss = generator.standard_normal((50, N_BATCHES)) ** 2
        best, _chosen = apply_rule(loss, flat, never, np.arange(50), counts)
        ratios.append((np.mean(loss[best[:-1], np.arange(N_BATCHES)]), np.mean(loss[best[-1]])))
    nested, apparent = np.mean(ratios, axis=0)
    # true mean square 1; standard error of the nested mean sqrt(2/6/2000) = .013, band five of them
    assert 0.935 < nested < 1.065
    assert apparent < 0.4


def test_the_null_programme_is_what_it_says() -> None:
    plan = null_programme(0)
    strengths = np.array([item.strength_mpa for item in plan.records.breaks if item.age_h == TARGET_H])
    assert np.all(np.abs(strengths / 40.0 - 1.0) < 0.01)
    assert len(plan.records.breaks) == N_BATCHES * 14 * 3
