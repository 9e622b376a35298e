"""A trial batch beside earlier ones: t statistics of scipy, and how often a like batch is called a stranger."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.issued_curve.calibration.batch_means import BatchMeans
from planner.issued_curve.calibration.expectation import Expectation, Likeness, expectation_of
from planner.terms.records import Break

AGES_H = (6.0, 24.0, 672.0)


def breaks(strengths: np.ndarray) -> list[Break]:
    """One break per batch and age, ``(n_batches, n_ages)``."""
    return [
        Break(batch=f"B{b}", mix="", curing="standard", age_h=age, tested_h=age, strength_mpa=float(strengths[b, a]))
        for b in range(len(strengths))
        for a, age in enumerate(AGES_H)
    ]


def trial(strengths: np.ndarray) -> BatchMeans:
    ages = np.array(AGES_H)
    return BatchMeans(
        batch="T1", age_h=ages, maturity_h=ages, mean_mpa=strengths, n_specimens=np.full(3, 3.0), cv=np.full(3, 0.03)
    )


def drawn(seed: int, n_batches: int, *, factor: float = 1.0) -> Expectation:
    rng = np.random.default_rng(seed)
    mean_departure, shape = rng.normal(0, 0.08, (n_batches + 1, 1)), rng.normal(0, 0.03, (n_batches + 1, 3))
    strengths = np.array([12.0, 28.0, 55.0]) * np.exp(mean_departure + shape)
    return expectation_of(trial(factor * strengths[-1]), breaks(strengths[:-1]))


def test_departures_equal_scipy() -> None:
    rng = np.random.default_rng(4)
    earlier = np.array([12.0, 28.0, 55.0]) * np.exp(rng.normal(0, 0.08, (8, 3)))
    own = np.array([13.0, 27.0, 60.0])
    found = expectation_of(trial(own), breaks(earlier))
    for a, item in enumerate(found.ages):
        logs = np.log(earlier[:, a])
        error = np.std(logs, ddof=1) * np.sqrt(1 + 1 / 8)
        assert item.t == pytest.approx((np.log(own[a]) - logs.mean()) / error)
        low, high = stats.t.interval(0.95, 7, loc=logs.mean(), scale=error)
        assert (item.low_mpa, item.high_mpa) == pytest.approx((np.exp(low), np.exp(high)))
        assert item.middle_mpa == pytest.approx(np.exp(logs.mean()))
        assert item.n_batches == 8
    levels = np.log(earlier).mean(axis=1)
    error = np.std(levels, ddof=1) * np.sqrt(1 + 1 / 8)
    departure = np.log(own).mean() - levels.mean()
    assert found.mean_departure == pytest.approx(np.expm1(departure))
    assert found.mean_departure_t == pytest.approx(departure / error)
    assert found.t_limit == pytest.approx(stats.t.ppf(1 - 0.05 / 4 / 2, 7))  # three ages and their mean
    # a deficit noticed 9 times in 10: noncentral t beyond the limit with 90 %
    noticed = -np.log1p(-found.noticed_deficit) / error
    assert stats.nct.sf(found.t_limit, 7, noticed) == pytest.approx(0.9, abs=1e-6)


def test_like_batches_are_seldom_called_strangers() -> None:
    # 2,000 batches, seeds 0 to 1,999: at most 5 % by Bonferroni, + 4 x .49 %, a false alarm in fewer than 1 of 30,000
    share = np.mean([drawn(seed, 9).likeness is Likeness.STRANGER for seed in range(2000)])
    assert share <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / 2000)
    assert share > 0.015


def test_a_batch_of_half_the_strength_is_a_stranger() -> None:
    found = drawn(3, 9, factor=0.5)
    assert found.likeness is Likeness.STRANGER
    assert found.mean_departure is not None
    assert found.mean_departure < -0.3


def test_few_batches_cannot_tell() -> None:
    assert drawn(3, 5, factor=0.5).likeness is Likeness.CANNOT_BE_TOLD
    assert drawn(3, 5).noticed_deficit is not None
    none = drawn(3, 2)
    assert none.likeness is Likeness.CANNOT_BE_TOLD
    assert none.ages == ()
    assert none.noticed_deficit is None


def test_the_batch_itself_and_site_breaks_are_no_earlier_batches() -> None:
    rng = np.random.default_rng(9)
    earlier = breaks(np.array([12.0, 28.0, 55.0]) * np.exp(rng.normal(0, 0.08, (6, 3))))
    own = [
        Break(batch="T1", mix="", curing="standard", age_h=24.0, tested_h=24.0, strength_mpa=99.0),
        Break(batch="B0", mix="", curing="site", age_h=24.0, tested_h=24.0, strength_mpa=99.0),
    ]
    means = trial(np.array([12.0, 28.0, 55.0]))
    assert expectation_of(means, [*earlier, *own]).ages == expectation_of(means, earlier).ages
