"""The reading of one pour from records, trial batches and the pour's own early breaks, in closed form.

One linear model serves all of it. The centre (alpha, beta) of the batches is known from the records as
well as B batches allow; every trial batch tells of it as one batch more; the pour departs from it as any
batch does, and its early breaks tell of that departure. Special cases: without trial batch and early breaks
the reading is the records' own mean curve.

    d = s^2 / n + departure variance, J = sum h h' / d, q = sum h r / d      of a set of breaks
    W = (1 + J Sigma)^-1 J, Lambda = B Sigma^-1 + sum W                      centre, after the trial batches
    P = Lambda^-1 + Sigma, V = (P^-1 + J_e)^-1                               pour, after its early breaks
    reading mu + h' V (P^-1 centre + q_e), variance h' V h + departure variance

References
----------
Henderson 1975, Biometrics 31:423, for best linear unbiased prediction (from memory).
Prus and Schwabe 2016, J. R. Stat. Soc. B 78:175, for the choice of ages under it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from planner.mixed_model.growth_prior import GrowthPrior
from planner.mixed_model.matrices import inverse
from planner.terms.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CellMeans:
    """Broken cells of one trial batch or one pour, each array ``(n_ages,)``."""

    maturity_h: FloatArray
    mean_mpa: FloatArray
    n_specimens: FloatArray

    def __post_init__(self) -> None:
        shapes = {np.shape(self.maturity_h), np.shape(self.mean_mpa), np.shape(self.n_specimens)}
        if len(shapes) != 1 or len(next(iter(shapes))) != 1:
            raise ValueError(f"Maturities, means and counts must be rows of one length, given shapes {shapes}.")
        for name in ("maturity_h", "mean_mpa", "n_specimens"):
            values = np.asarray(getattr(self, name))
            if not np.all(np.isfinite(values) & (values > 0)):
                raise ValueError(f"{name} must be finite and above 0, given {values.tolist()}.")


@dataclass(frozen=True, slots=True, eq=False)
class Information:
    """What a set of breaks says of (alpha, beta) of its batch."""

    precision: FloatArray  # J, (2, 2)
    weighted: FloatArray  # q, (2,)


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """Normal law of a pair (alpha, beta)."""

    mean: FloatArray  # (2,)
    covariance: FloatArray  # (2, 2)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Reading:
    """Strength read at maturities, each array ``(n,)``; the law is Student's t on the log scale."""

    log_mpa: FloatArray
    log_sd: FloatArray  # relative standard deviation of the reading
    n_freedom: float  # degrees of freedom: what the records and the weak priors tell of the variances

    @property
    def strength_mpa(self) -> FloatArray:
        """Strength that is as often exceeded as not [MPa]."""
        return np.exp(self.log_mpa)

    def safe_mpa(self, assurance: float) -> FloatArray:
        """Lower one-sided bound [MPa]: a share `assurance` of such pours has this strength or more."""
        return np.exp(self.log_mpa - self._quantile(assurance) * self.log_sd)

    def interval_mpa(self, share: float) -> tuple[FloatArray, FloatArray]:
        """Two-sided bounds [MPa] that hold a share of such pours."""
        half = self._quantile(0.5 + 0.5 * share) * self.log_sd
        return np.exp(self.log_mpa - half), np.exp(self.log_mpa + half)

    def _quantile(self, share: float) -> float:
        if not 0.0 < share < 1.0:
            raise ValueError(f"An assurance lies between 0 and 1, given {share}.")
        return student_quantile(self.n_freedom, share)


def student_quantile(n_freedom: float, share: float) -> float:
    """Quantile of Student's t."""
    from scipy.special import stdtrit

    return float(stdtrit(n_freedom, share))


def information(prior: GrowthPrior, cells: CellMeans) -> Information:
    """What breaks say of (alpha, beta) of the batch they are of."""
    expected, rows = prior.at(cells.maturity_h)
    weight = 1.0 / (prior.cv_at(cells.maturity_h) ** 2 / cells.n_specimens + prior.departure_variance(cells.maturity_h))
    return Information(
        precision=np.einsum("i,ij,ik->jk", weight, rows, rows),
        weighted=np.einsum("i,ij->j", weight * (np.log(cells.mean_mpa) - expected), rows),
    )


def centre(prior: GrowthPrior, trials: Iterable[Information] = ()) -> Belief:
    """Where batches of this mix lie about, from the records and trial batches."""
    precision, weighted = prior.n_batches * inverse(prior.spread), np.zeros(2)
    for trial in trials:
        share = inverse(np.eye(2) + trial.precision @ prior.spread)
        precision = precision + share @ trial.precision
        weighted = weighted + share @ trial.weighted
    covariance = inverse(precision)
    return Belief(covariance @ weighted, covariance)


def pour(prior: GrowthPrior, about: Belief, early: Information | None = None) -> Belief:
    """(alpha, beta) of a pour, after its early breaks."""
    before = about.covariance + prior.spread
    if early is None:
        return Belief(about.mean, before)
    prior_precision = inverse(before)
    after = inverse(prior_precision + early.precision)
    return Belief(after @ (prior_precision @ about.mean + early.weighted), after)


def read(prior: GrowthPrior, believed: Belief, maturity_h: ArrayLike) -> Reading:
    """Reading of a pour at maturities [h], ``(n,)``."""
    expected, rows = prior.at(maturity_h)
    variance = np.einsum("ij,jk,ik->i", rows, believed.covariance, rows) + prior.departure_variance(maturity_h)
    return Reading(log_mpa=expected + rows @ believed.mean, log_sd=np.sqrt(variance), n_freedom=prior.n_freedom)


def read_pour(
    prior: GrowthPrior, maturity_h: ArrayLike, *, early: CellMeans | None = None, trials: Iterable[CellMeans] = ()
) -> Reading:
    """Reading of a pour at maturities [h] from everything that was broken of it and before it."""
    about = centre(prior, [information(prior, cells) for cells in trials])
    return read(prior, pour(prior, about, information(prior, early) if early is not None else None), maturity_h)


def rescaled(
    curve_log_mpa: ArrayLike, curve_at_early_log_mpa: ArrayLike, early_log_mpa: ArrayLike, weight: ArrayLike
) -> FloatArray:
    """A trial curve shifted to the pour's early breaks, all log strengths: the simple rival.

    Parameters
    ----------
    curve_log_mpa
        The curve where the pour is read, ``(n,)``.
    curve_at_early_log_mpa
        The curve at the early breaks, ``(n_early,)``.
    early_log_mpa
        Log means of the early breaks, ``(n_early,)``.
    weight
        Weight of each, ``n / CV^2``, ``(n_early,)``.
    """
    shift = np.average(np.subtract(early_log_mpa, curve_at_early_log_mpa), weights=np.asarray(weight))
    return np.asarray(np.asarray(curve_log_mpa, dtype=np.float64) + shift)
