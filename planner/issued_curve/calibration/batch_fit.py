"""One trial batch fitted by the recommended curve: parameters with their errors, lack of fit, the other curves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from planner.curves import CURVES
from planner.curves.fitted_strength import fewest_ages_of
from planner.fitting.single import CurveFit, fit_curve
from planner.issued_curve.calibration.batch_means import BatchMeans
from planner.issued_curve.calibration.issued import BatchCurve
from planner.resampling.priors.one_fit import Numbers, fit_learnt
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName, Weighting

AT_BOUND = 1e-6  # relative distance to a bound at which a parameter lies on it
SMALL_PROBABILITY = 0.05  # a lack of fit this improbable is told


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchFit:
    """A curve through the means of one batch."""

    means: BatchMeans
    fit: CurveFit
    parameter_se: FloatArray  # from the scatter of the specimens, (n_parameters,)
    departure: FloatArray  # mean over curve less 1, (n_ages,)
    lack_of_fit: float | None  # chance of such departures if the curve is right; None: it goes through every mean
    is_at_bound: bool  # a shape parameter lies on a bound; its standard error then says little

    @property
    def fits_badly(self) -> bool:
        return self.lack_of_fit is not None and self.lack_of_fit < SMALL_PROBABILITY


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherCurve:
    """What another curve would read from the same means."""

    curve: CurveName
    rms_departure: float  # of the means from the curve, relative
    lack_of_fit: float | None
    read_mpa: tuple[float, ...]  # at the maturities asked for


def issued_batch(fit: BatchFit) -> BatchCurve:
    """What an issued curve keeps of it."""
    return BatchCurve(
        batch=fit.means.batch,
        parameters=tuple(fit.fit.parameters.tolist()),
        parameter_se=tuple(fit.parameter_se.tolist()),
        knots_h=tuple(fit.fit.knots_h.tolist()),
    )


def fit_batch(means: BatchMeans, curve: CurveName, weighting: Weighting, *, learnt: Numbers | None = None) -> BatchFit:
    """Fit one batch as the planner fits: every mean counts once.

    The covariance of the parameters is ``A V A'`` with ``A = (J' W J)^-1 J' W`` and V the variances of the means
    from the specimens' scatter. The lack of fit is the chance that chi-square passes ``r' C^+ r``, r the residuals
    and ``C = (I - J A) V (I - J A)'`` of rank ages less parameters: exact for a linear curve and known scatter.

    Parameters
    ----------
    learnt
        What a curve with a prior has learnt from the earlier batches; such a curve has no lack of fit of its own.

    Raises
    ------
    ValueError
        Where there are too few ages for the curve, means or maturities that do not rise from above 0, or a curve with
        a prior has nothing learnt.
    """
    if curve in PRIOR_CURVE_NAMES:
        if learnt is None:
            raise ValueError(f"The {curve} is fitted with what it has learnt from the earlier batches. Give these too.")
        fitted, parameter_se = fit_learnt(learnt, means.maturity_h, means.mean_mpa, means.cv)
        return BatchFit(
            means=means,
            fit=fitted,
            parameter_se=parameter_se,
            departure=means.mean_mpa / fitted.predict(means.maturity_h) - 1.0,
            lack_of_fit=None,
            is_at_bound=False,
        )
    fit = fit_curve(curve, means.maturity_h, means.mean_mpa, weighting=weighting)
    read = fit.predict(means.maturity_h)
    slopes = fit.derivative(means.maturity_h)
    weights = means.mean_mpa**-2.0 if weighting == "relative" else np.ones_like(means.mean_mpa)
    solve = np.linalg.pinv(slopes * np.sqrt(weights)[:, None]) * np.sqrt(weights)
    variance = means.mean_sd_mpa**2
    return BatchFit(
        means=means,
        fit=fit,
        parameter_se=np.sqrt(np.einsum("ij,j,ij->i", solve, variance, solve)),
        departure=means.mean_mpa / read - 1.0,
        lack_of_fit=_lack_of_fit(means.mean_mpa - read, slopes @ solve, variance, n_parameters=len(fit.parameters)),
        is_at_bound=_is_at_bound(fit),
    )


def other_curves(
    means: BatchMeans,
    names: Sequence[CurveName],
    weighting: Weighting,
    *,
    maturities_h: Iterable[float],
    learnt: Mapping[CurveName, Numbers],
) -> tuple[OtherCurve, ...]:
    """Fit every curve that these means allow, and read it at some maturities.

    Parameters
    ----------
    learnt
        What curves with a prior have learnt; those that are missing are left out.
    """
    wanted = np.array(list(maturities_h), dtype=np.float64)
    fits = [
        fit_batch(means, name, weighting, learnt=learnt.get(name))
        for name in names
        if len(means.age_h) >= fewest_ages_of(name) and (name not in PRIOR_CURVE_NAMES or name in learnt)
    ]
    return tuple(
        OtherCurve(
            curve=fit.fit.curve,
            rms_departure=float(np.sqrt(np.mean(fit.departure**2))),
            lack_of_fit=fit.lack_of_fit,
            read_mpa=tuple(fit.fit.predict(wanted).tolist()),
        )
        for fit in fits
    )


def _lack_of_fit(residual: FloatArray, hat: FloatArray, variance: FloatArray, *, n_parameters: int) -> float | None:
    n_free = len(residual) - n_parameters
    if n_free <= 0 or not np.all(variance > 0):
        return None
    part = np.eye(len(residual)) - hat
    # eigenvectors of the largest eigenvalues: the others are nought but for rounding
    values, vectors = np.linalg.eigh(part * variance @ part.T)
    along = vectors[:, -n_free:].T @ residual
    return float(chdtrc(n_free, float(np.sum(along**2 / values[-n_free:]))))


def _is_at_bound(fit: CurveFit) -> bool:
    curve = CURVES[fit.curve]
    if curve.n_shape == 0:
        return False
    lowest, highest = curve.bounds(fit.knots_h)
    shape, width = fit.parameters[1:], highest - lowest
    return bool(np.any((shape - lowest < AT_BOUND * width) | (highest - shape < AT_BOUND * width)))
