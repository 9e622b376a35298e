"""Ratio through the origin and power law, with errors in both strengths and batches as clusters.

Residuals are relative: ``y / x - k`` of the ratio, ``ln y - ln a - b ln x`` of the power law. What the within-test
scatter of both means gives to a residual is its own variance; a departure common to the pairs of a batch is added,
``V_b = diag(d) + tau^2 c c'``. The line is where the squared residuals over their variances are least, the variances
following the line (for ``tau = 0`` the orthogonal distance of Deming and York); tau by restricted likelihood.

References
----------
York 1966, Can. J. Phys. 44:1079, for the line; Patterson & Thompson 1971, Biometrika 58:545, for tau (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.conversion.pairs import Pairs
from planner.terms.arrays import FloatArray

Form = Literal["none", "ratio", "power law"]  # the simplest first
RATIOS, EXPONENTS = (0.2, 5.0), (0.5, 2.0)  # within which lines are looked for
MOST_BETWEEN = 0.5  # relative, batch to batch
ROUNDS, SETTLED = 12, 1e-7  # of line and tau in turn, at most; they settle within a few
FINE = 1e-10  # to which a minimum is found


@dataclass(frozen=True, slots=True)
class Line:
    """``to = factor * from ** exponent``, with its uncertainty."""

    form: Form
    factor: float
    exponent: float
    covariance: FloatArray  # of (ln factor, exponent), (2, 2)
    between: float  # standard deviation of a batch about the line, relative

    def convert(self, from_mpa: FloatArray | float) -> FloatArray:
        """Strength in the other geometry [MPa], any shape."""
        return np.asarray(self.factor * np.asarray(from_mpa, dtype=np.float64) ** self.exponent)

    def back(self, to_mpa: FloatArray | float) -> FloatArray:
        """The strength that is converted to this one [MPa], any shape."""
        return np.asarray((np.asarray(to_mpa, dtype=np.float64) / self.factor) ** (1.0 / self.exponent))

    def variance(self, from_mpa: FloatArray | float) -> FloatArray:
        """Relative variance of a new batch's strength about the converted one, any shape."""
        log = np.log(np.asarray(from_mpa, dtype=np.float64))
        (aa, ab), (_, bb) = self.covariance
        return np.asarray(self.between**2 + aa + 2.0 * ab * log + bb * log**2)


def fit_line(pairs: Pairs, form: Form, *, between: float | None = None) -> Line:
    """Fit one form.

    Parameters
    ----------
    between
        Held at this value [relative]; where None it is estimated, as 0 from a single batch.
    """
    if between is None and len(pairs.batches) < 2:
        between = 0.0
    tau = 0.0 if between is None else between
    held = _held(pairs)
    shape = _shape(pairs, form, tau, held)
    for _ in range(ROUNDS if between is None else 0):
        before, tau = tau, _between(pairs, form, shape, held)
        shape = _shape(pairs, form, tau, held)
        if abs(tau - before) < SETTLED:
            break
    if form == "none":
        return Line(form, 1.0, 1.0, np.zeros((2, 2)), tau)
    residual, variance, common = _residuals(pairs, form, shape)
    product = _products(np.column_stack([*_design(pairs, form), residual]), variance, common, held)(tau)
    covariance: FloatArray = np.linalg.inv(product[:-1, :-1]).astype(np.float64)
    if form == "ratio":
        spread = np.zeros((2, 2))
        spread[0, 0] = covariance[0, 0] / shape**2
        return Line(form, shape, 1.0, spread, tau)
    return Line(form, float(np.exp(product[0, -1] / product[0, 0])), shape, covariance, tau)


def _residuals(pairs: Pairs, form: Form, shape: float) -> tuple[FloatArray, FloatArray, float]:
    """Residuals before the factor of a power law is taken out, their own variances, size of a batch's departure."""
    x, y = pairs.from_mpa, pairs.to_mpa
    if form == "power law":
        variance = (pairs.to_sd_mpa / y) ** 2 + (shape * pairs.from_sd_mpa / x) ** 2
        return np.log(y) - shape * np.log(x), variance, 1.0
    about = float(y.sum() / x.sum())  # held, or a larger ratio would look better for allowing larger departures
    return y / x - shape, (pairs.to_sd_mpa**2 + (shape * pairs.from_sd_mpa) ** 2) / x**2, about


def _held(pairs: Pairs) -> FloatArray:
    """1 where a batch holds a pair, ``(n_batches, n_pairs)``; made once for a fit, which asks for it all the time."""
    cluster = pairs.cluster
    return np.asarray(np.arange(cluster.max() + 1)[:, None] == cluster, dtype=np.float64)


def _design(pairs: Pairs, form: Form) -> list[FloatArray]:
    ones = np.ones(len(pairs))
    return [ones, np.log(pairs.from_mpa)] if form == "power law" else [ones]


def _products(
    columns: FloatArray, variance: FloatArray, common: float, held: FloatArray
) -> Callable[[float], FloatArray]:
    """``columns' V^-1 columns`` for any tau, with V made of one block for each batch: only the blocks' sizes change."""
    weight = 1.0 / variance[:, None]
    weighed = columns * weight
    alone, by_batch, in_all = columns.T @ weighed, held @ weighed, held @ weight

    def product(tau: float) -> FloatArray:
        size = (tau * common) ** 2
        return np.asarray(alone - by_batch.T @ (size / (1.0 + size * in_all) * by_batch))

    return product


def _square(product: FloatArray, form: Form) -> float:
    """Squared residuals over their variances, from :func:`_products` of ones first and residuals last.

    The factor of a power law is at its best.
    """
    square = product[-1, -1]
    return float(square - product[0, -1] ** 2 / product[0, 0] if form == "power law" else square)


def _shape(pairs: Pairs, form: Form, tau: float, held: FloatArray) -> float:
    """The ratio, or the exponent of the power law."""
    if form == "none":
        return 1.0
    ones = np.ones(len(pairs))

    def square(shape: float) -> float:
        residual, variance, common = _residuals(pairs, form, shape)
        return _square(_products(np.column_stack([ones, residual]), variance, common, held)(tau), form)

    return _least(square, RATIOS if form == "ratio" else EXPONENTS)


def _between(pairs: Pairs, form: Form, shape: float, held: FloatArray) -> float:
    """Restricted likelihood of the departure of batches, the line held."""
    residual, variance, common = _residuals(pairs, form, shape)
    product = _products(np.column_stack([*_design(pairs, form), residual]), variance, common, held)
    own, in_batch = float(np.log(variance).sum()), held @ (1.0 / variance)

    def deviance(tau: float) -> float:
        found = product(tau)
        value = own + float(np.log1p((tau * common) ** 2 * in_batch).sum()) + _square(found, form)
        return value if form == "none" else value + float(np.linalg.slogdet(found[:-1, :-1])[1])

    found = _least(deviance, (0.0, MOST_BETWEEN))
    return found if deviance(found) < deviance(0.0) else 0.0


def _least(function: Callable[[float], float], bounds: tuple[float, float]) -> float:
    """Where a function of one number is least."""
    from scipy.optimize import minimize_scalar

    return float(minimize_scalar(function, bounds=bounds, method="bounded", options={"xatol": FINE}).x)
