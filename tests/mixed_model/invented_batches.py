"""Invented batches of one mix for these tests, with and without holes."""

from __future__ import annotations

import numpy as np

from planner.mixed_model import GrowthPrior, MeanCurve, PriorBatches
from planner.terms.arrays import FloatArray

AGES_H = np.array([4.0, 6.0, 8.0, 12.0, 24.0, 72.0, 168.0])
CV = np.array([0.06, 0.06, 0.055, 0.05, 0.045, 0.04, 0.035])


def growth_mpa(maturity_h: FloatArray, rate: FloatArray) -> FloatArray:
    """Mean growth [MPa] of a batch that hardens faster or slower by a factor."""
    return 60.0 * np.exp(-((9.0 / (maturity_h * rate)) ** 0.8))


def invented_batches(n_batches: int, seed: int, *, share_of_holes: float = 0.0) -> PriorBatches:
    """Batches that differ by 8 % in level and 10 % in rate, each with a maturity of its own at every age."""
    rng = np.random.default_rng(seed)
    n_ages = len(AGES_H)
    maturity = AGES_H * np.exp(0.05 * rng.standard_normal((n_batches, 1)))
    rate = np.exp(0.10 * rng.standard_normal((n_batches, 1)))
    level = np.exp(0.08 * rng.standard_normal((n_batches, 1)))
    count = rng.integers(2, 5, (n_batches, n_ages)).astype(np.float64)
    mean = level * growth_mpa(maturity, rate) * np.exp(0.015 * rng.standard_normal((n_batches, n_ages)))
    mean *= 1.0 + CV / np.sqrt(count) * rng.standard_normal((n_batches, n_ages))
    is_hole = rng.random((n_batches, n_ages)) < share_of_holes
    is_hole[np.arange(n_batches), np.arange(n_batches) % n_ages] = False
    is_hole[0] = False
    return PriorBatches(
        mean_mpa=np.where(is_hole, np.nan, mean),
        n_specimens=np.where(is_hole, 0.0, count),
        maturity_h=np.where(is_hole, np.nan, maturity),
        cv=CV,
    )


def plain_prior(*, n_batches: int = 6) -> GrowthPrior:
    """A prior whose every number is stated."""
    knots = np.log(AGES_H)
    values = np.log(growth_mpa(AGES_H, np.ones(1)))
    slope = 0.8 * (9.0 / AGES_H) ** 0.8
    return GrowthPrior(
        curve=MeanCurve(knots, values, slope),
        scale_sd=0.07,
        rate_sd=0.11,
        departure_sd=0.02,
        knot_cv=CV,
        knot_noise=CV**2 / (3 * n_batches) + 0.02**2 / n_batches,
        n_batches=n_batches,
        n_freedom=n_batches,
    )
