"""The earlier batches' own mean curve, where no trial batch is cast.

Between its knots the logarithm of strength is a monotone cubic over the logarithm of maturity, as the mixed model
reads it (:mod:`planner.curves.mean_curve`): the knots alone say the whole curve.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.issued_curve.calibration.batch_means import BatchMeans
from planner.issued_curve.calibration.issued import RECORDS_CURVE_FEWEST, BatchCurve
from planner.mixed_model import GrowthPrior, PriorBatches, mean_curve
from planner.terms.arrays import FloatArray


def batches_of_means(means: Sequence[BatchMeans]) -> PriorBatches:
    """Means of several batches in one table; an age that a batch was not broken at is a hole.

    Parameters
    ----------
    means
        One for each batch, one or more.
    """
    ages = sorted({age for item in means for age in item.age_h.tolist()})
    mean, count, maturity = (np.zeros((len(means), len(ages))) for _ in range(3))
    cv = np.zeros(len(ages))
    for place, item in enumerate(means):
        at = np.searchsorted(ages, item.age_h)
        mean[place, at], count[place, at], maturity[place, at] = item.mean_mpa, item.n_specimens, item.maturity_h
        cv[at] = item.cv
    return PriorBatches(mean_mpa=mean, n_specimens=count, maturity_h=maturity, cv=cv)


def curve_of_prior(prior: GrowthPrior) -> BatchCurve:
    """The mean curve of the population, its errors from the scatter of specimens and from how batches differ."""
    curve = prior.curve
    strengths = np.exp(curve.log_mpa)
    spread = (prior.scale_sd**2 + (curve.slope * prior.rate_sd) ** 2) / prior.n_batches
    error = strengths * np.sqrt(prior.knot_noise + spread)
    return _written(prior.n_batches, np.exp(curve.log_maturity), strengths, error)


def plain_curve(batches: PriorBatches) -> BatchCurve:
    """The mean of the logarithms at each age, where the batches do not tell how they differ."""
    held = batches.is_held
    n_held = held.sum(axis=0)
    curve = mean_curve(
        batches.log_maturity.sum(axis=0) / n_held, batches.log_mean.sum(axis=0) / n_held, n_held.astype(np.float64)
    )
    order = np.argsort(batches.log_maturity.sum(axis=0) / n_held, kind="stable")
    strengths = np.exp(curve.log_mpa)
    scatter = np.sqrt(batches.noise.sum(axis=0) / n_held**2)[order]
    return _written(batches.n_batches, np.exp(curve.log_maturity), strengths, strengths * scatter)


def common_ages(batches: PriorBatches) -> PriorBatches:
    """The ages that enough batches were broken at: the ends of the curve must not rest on one of them."""
    n_held = batches.is_held.sum(axis=0)
    ages = n_held >= min(RECORDS_CURVE_FEWEST, batches.n_batches)
    held = batches.is_held[:, ages].any(axis=1)
    return PriorBatches(
        mean_mpa=batches.mean_mpa[held][:, ages],
        n_specimens=batches.n_specimens[held][:, ages],
        maturity_h=batches.maturity_h[held][:, ages],
        cv=batches.cv[ages],
    )


def _written(n_batches: int, maturity_h: FloatArray, strength_mpa: FloatArray, error_mpa: FloatArray) -> BatchCurve:
    return BatchCurve(
        batch="one batch" if n_batches == 1 else f"mean of {n_batches} batches",
        parameters=tuple(strength_mpa.tolist()),
        parameter_se=tuple(error_mpa.tolist()),
        knots_h=tuple(maturity_h.tolist()),
    )
