"""The population prior: how batches of one mix differ from the mean curve of the earlier ones.

    ln S_b(M) = mu(ln M) + alpha_b + beta_b g(ln M) + delta

mu is a monotone curve through the means of the earlier batches and g its slope: alpha shifts the strength of a
batch, beta its rate. alpha, beta and the departure delta of every age are normal about 0. Their standard deviations are
those of the highest penalised restricted likelihood, under weak log-normal priors, because a handful of
batches says little of a variance.

Use it where the records are of one mix. Mixes of different strength want the shape prior.

References
----------
Patterson and Thompson 1971, Biometrika 58:545, for the restricted likelihood.
Chung et al. 2013, Psychometrika 78:685, for penalising variances that few groups tell (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from planner.curves.mean_curve import MeanCurve, mean_curve
from planner.mixed_model.prior_batches import PriorBatches
from planner.terms.arrays import FloatArray

FEWEST_BATCHES = 2  # that leave any difference between batches at all
N_ROUNDS = 3  # of mean curve and variances in turn; the fourth changes neither in the fifth digit


@dataclass(frozen=True, slots=True)
class SpreadPriors:
    """Weak log-normal priors of the three standard deviations: their medians, and one width for all."""

    scale: float = 0.08  # median of the standard deviation of alpha
    rate: float = 0.12  # of beta
    departure: float = 0.02  # of delta
    log_sd: float = 0.7  # standard deviation of the logarithm of each

    def __post_init__(self) -> None:
        if not all(value > 0 for value in (self.scale, self.rate, self.departure, self.log_sd)):
            raise ValueError(f"Medians and width of the priors must be above 0, given {self}.")

    @property
    def worth_batches(self) -> float:
        """How many batches know a standard deviation as well: the logarithm of one from n has variance 1 / (2 n)."""
        return 0.5 / self.log_sd**2

    @property
    def log_medians(self) -> FloatArray:
        """Logarithms of the medians, ``(3,)``."""
        return np.log([self.scale, self.rate, self.departure])


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class GrowthPrior:
    """What the earlier batches say of the next one."""

    curve: MeanCurve
    scale_sd: float  # of alpha, log strength
    rate_sd: float  # of beta, log maturity
    departure_sd: float  # of delta, log strength
    knot_cv: FloatArray  # within-test scatter at the knots, (n_knots,)
    knot_noise: FloatArray  # variance of the mean curve at the knots from scatter and departures, (n_knots,)
    n_batches: int
    n_freedom: float  # behind the variances: B - 1 batches and what the weak priors are worth

    @property
    def spread(self) -> FloatArray:
        """Covariance of (alpha, beta) between batches, ``(2, 2)``."""
        return np.diag([self.scale_sd**2, self.rate_sd**2])

    def known_from(self, n_batches: int) -> GrowthPrior:
        """The same population known from another number of batches: the mean curve's own variance goes with 1 / B."""
        return replace(self, n_batches=n_batches, knot_noise=self.knot_noise * self.n_batches / n_batches)

    def at(self, maturity_h: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Mean log strength and rows ``(1, g)`` at maturities [h]: shapes ``(n,)`` and ``(n, 2)``."""
        value, slope = self.curve.at(np.log(np.asarray(maturity_h, dtype=np.float64)))
        return value, np.stack([np.ones_like(slope), slope], axis=-1)

    def cv_at(self, maturity_h: ArrayLike) -> FloatArray:
        """Within-test scatter, straight in log maturity between the knots, constant beyond them."""
        return np.interp(np.log(np.asarray(maturity_h, dtype=np.float64)), self.curve.log_maturity, self.knot_cv)

    def departure_variance(self, maturity_h: ArrayLike) -> FloatArray:
        """Variance of what neither alpha nor beta explains: departures, and the noise of the mean curve."""
        log_maturity = np.log(np.asarray(maturity_h, dtype=np.float64))
        return self.departure_sd**2 + np.interp(log_maturity, self.curve.log_maturity, self.knot_noise)

    def holds(self, maturity_h: ArrayLike) -> np.ndarray:
        """Whether maturities lie inside those of the records (to one part in a million)."""
        maturity = np.asarray(maturity_h, dtype=np.float64)
        least, most = np.exp(self.curve.log_maturity[[0, -1]])
        return np.asarray((maturity >= least * (1 - 1e-6)) & (maturity <= most * (1 + 1e-6)))


def estimate_growth_prior(batches: PriorBatches, priors: SpreadPriors | None = None) -> GrowthPrior:
    """Mean curve and spread of the earlier batches.

    Raises
    ------
    ValueError
        With fewer than two batches, or fewer than two ages.
    """
    if batches.n_batches < FEWEST_BATCHES:
        raise ValueError(f"A spread between batches needs {FEWEST_BATCHES} batches or more, given {batches.n_batches}.")
    weak = priors or SpreadPriors()
    held, noise = batches.is_held, batches.noise
    n_held = held.sum(axis=0)
    log_mean, log_maturity = batches.log_mean, batches.log_maturity
    knots = log_maturity.sum(axis=0) / n_held
    values = log_mean.sum(axis=0) / n_held
    log_sd = weak.log_medians
    for _ in range(N_ROUNDS):
        curve = mean_curve(knots, values, n_held.astype(np.float64))
        expected, slope = curve.at(log_maturity)
        residual = np.where(held, log_mean - expected, 0.0)
        log_sd, shift = _penalised_maximum(residual, noise, held, slope, weak, start=log_sd)
        values = np.interp(knots, curve.log_maturity, curve.log_mpa) + shift
    order = np.argsort(knots, kind="stable")
    scale_sd, rate_sd, departure_sd = (float(value) for value in np.exp(log_sd))
    knot_noise = noise.sum(axis=0) / n_held**2 + departure_sd**2 / n_held
    return GrowthPrior(
        curve=mean_curve(knots, values, n_held.astype(np.float64)),
        scale_sd=scale_sd,
        rate_sd=rate_sd,
        departure_sd=departure_sd,
        knot_cv=batches.cv[order],
        knot_noise=knot_noise[order],
        n_batches=batches.n_batches,
        n_freedom=batches.n_batches - 1 + weak.worth_batches,
    )


def _penalised_maximum(
    residual: FloatArray,
    noise: FloatArray,
    held: np.ndarray,
    slope: FloatArray,
    priors: SpreadPriors,
    *,
    start: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Log standard deviations, and the generalised least squares means of the residuals there."""
    from planner.mixed_model.restricted_likelihood import minus_twice_log_likelihood, penalised_minimum

    residual, noise, held, slope = map(np.ascontiguousarray, (residual, noise, held, slope))  # compiled for one layout
    found = penalised_minimum(start, residual, noise, held, slope, priors.log_medians, priors.log_sd)
    _, mean = minus_twice_log_likelihood(found, residual, noise, held, slope)
    return found, mean
