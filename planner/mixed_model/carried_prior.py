"""The population prior to and from the plain numbers that an issued curve carries."""

from __future__ import annotations

import numpy as np

from planner.curves.mean_curve import MeanCurve
from planner.mixed_model.growth_prior import GrowthPrior
from planner.mixed_model.prior_batches import PriorBatches
from planner.terms.plan.early_breaks import PourReading
from planner.terms.results.after_casting.pour_model import Knot, PourModel, Remainder


def carried(
    prior: GrowthPrior,
    batches: PriorBatches,
    *,
    reading: PourReading,
    widening: float,
    least_strength_mpa: float,
    remainders: tuple[Remainder, ...] = (),
) -> PourModel:
    """Write a prior down.

    Parameters
    ----------
    batches
        That it was estimated from.
    reading, widening, least_strength_mpa, remainders
        As :class:`PourModel` says.
    """
    curve, held = prior.curve, batches.maturity_h[batches.is_held]
    return PourModel(
        reading=reading,
        knots=tuple(
            Knot(maturity_h=maturity, strength_mpa=strength, slope=slope, cv=cv, noise=noise)
            for maturity, strength, slope, cv, noise in zip(
                np.exp(curve.log_maturity).tolist(),
                np.exp(curve.log_mpa).tolist(),
                curve.slope.tolist(),
                prior.knot_cv.tolist(),
                prior.knot_noise.tolist(),
                strict=True,
            )
        ),
        scale_sd=prior.scale_sd,
        rate_sd=prior.rate_sd,
        departure_sd=prior.departure_sd,
        n_batches=prior.n_batches,
        n_freedom=prior.n_freedom,
        widening=widening,
        span_h=(float(held.min()), float(held.max())),
        least_strength_mpa=least_strength_mpa,
        remainders=remainders,
    )


def prior_of(model: PourModel) -> GrowthPrior:
    """Read a prior back."""
    columns = np.array([(k.maturity_h, k.strength_mpa, k.slope, k.cv, k.noise) for k in model.knots], dtype=np.float64)
    return GrowthPrior(
        curve=MeanCurve(np.log(columns[:, 0]), np.log(columns[:, 1]), columns[:, 2]),
        scale_sd=model.scale_sd,
        rate_sd=model.rate_sd,
        departure_sd=model.departure_sd,
        knot_cv=columns[:, 3],
        knot_noise=columns[:, 4],
        n_batches=model.n_batches,
        n_freedom=model.n_freedom,
    )
