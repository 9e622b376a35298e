"""The shape prior: mixes of different level that share the shape of their growth.

    ln S(t) = ln Su - (tau / t)^a,    (ln tau, ln a) ~ N(m, C) over the mixes, ln Su free

The level of a mix is its own affair; what the other mixes teach is how growth runs. Mean and covariance of the
shapes and the relative scatter about the curves are found by expectation and maximisation, each mix by a
penalised Gauss-Newton fit of its log means. Use it where mixes differ widely in level; for batches of one mix the
population prior knows more.

References
----------
Freiesleben Hansen and Pedersen 1977, Nordisk Betong 1:21, for the curve (from memory).
Lindstrom and Bates 1990, Biometrics 46:673, for the linearised mixed model (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from planner.mixed_model.matrices import inverse
from planner.terms.arrays import FloatArray

FEWEST_MIXES = 3
N_ROUNDS = 25  # of expectation and maximisation
N_STEPS = 12  # of Gauss-Newton in the fit of a mix
N_HALVINGS = 6
LOG_A_BOUNDS = (np.log(0.15), np.log(3.0))
WEAK_SHAPE_SD = (0.5, 0.2)  # of (ln tau, ln a): worth one mix in their covariance
LEAST_SCATTER = 0.005


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ShapePrior:
    """What the other mixes say of the shape of growth."""

    mean: FloatArray  # of (ln tau, ln a), tau in hours, (2,)
    covariance: FloatArray  # (2, 2)
    scatter: float  # relative standard deviation of a mean of one specimen about its curve
    n_mixes: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ShapeFit:
    """One mix fitted with the prior."""

    log_ultimate: float  # ln Su [ln MPa]
    shape: FloatArray  # (ln tau, ln a), (2,)
    covariance: FloatArray  # of (ln Su, ln tau, ln a), (3, 3)

    def read(self, maturity_h: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Strength [MPa] and its relative standard deviation at maturities [h], ``(n,)`` each."""
        log_maturity = np.log(np.asarray(maturity_h, dtype=np.float64))
        value, rows = _log_growth(log_maturity, self.shape)
        jacobian = np.concatenate([np.ones((len(log_maturity), 1)), rows], axis=1)
        variance = np.einsum("ij,jk,ik->i", jacobian, self.covariance, jacobian)
        return np.exp(self.log_ultimate + value), np.sqrt(variance)


def estimate_shape_prior(maturity_h: FloatArray, mean_mpa: FloatArray, n_specimens: FloatArray) -> ShapePrior:
    """Shapes of mixes from their cell means.

    Parameters
    ----------
    maturity_h, mean_mpa, n_specimens
        Cells of every mix, anything with 0 specimens in a hole, ``(n_mixes, n_ages)`` each.

    Raises
    ------
    ValueError
        With fewer than three mixes.
    """
    n_mixes = len(mean_mpa)
    if n_mixes < FEWEST_MIXES:
        raise ValueError(f"Shapes are learnt from {FEWEST_MIXES} mixes or more, given {n_mixes}.")
    held = n_specimens > 0
    cells = _Cells(
        np.log(np.where(held, maturity_h, 1.0)), np.log(np.where(held, mean_mpa, 1.0)), np.where(held, n_specimens, 0.0)
    )
    mean = np.array([np.log(np.median(maturity_h[held])) - 1.0, np.log(0.6)])
    weak = np.diag(np.square(WEAK_SHAPE_SD))
    covariance, variance = 4.0 * weak, 0.05**2
    shapes = np.tile(mean, (n_mixes, 1))
    for _ in range(N_ROUNDS):
        pull = _Pull(mean, inverse(covariance))
        fitted = _fit_shapes(cells.weighing(variance), shapes, pull)
        shapes = fitted.shapes
        mean = shapes.mean(axis=0)
        departure = shapes - mean
        spread = np.einsum("bi,bj->ij", departure, departure) + fitted.covariances.sum(axis=0)
        covariance = (spread + weak) / (n_mixes + 1)
        # what the breaks decide: one level a mix, and of its shape what the other mixes leave to them
        told = 3.0 * n_mixes - np.einsum("bij,ji->", fitted.covariances, pull.penalty)
        variance = max(variance * fitted.squares.sum() / max(held.sum() - told, 1.0), LEAST_SCATTER**2)
    return ShapePrior(mean=mean, covariance=covariance, scatter=float(np.sqrt(variance)), n_mixes=n_mixes)


def fit_shape(prior: ShapePrior, maturity_h: ArrayLike, mean_mpa: ArrayLike, n_specimens: ArrayLike) -> ShapeFit:
    """Fit one mix: its level from its own breaks, its shape from them and from the other mixes, ``(n_ages,)`` each.

    One age is enough.
    """
    cells = _Cells(
        np.log(np.atleast_2d(np.asarray(maturity_h, dtype=np.float64))),
        np.log(np.atleast_2d(np.asarray(mean_mpa, dtype=np.float64))),
        np.atleast_2d(np.asarray(n_specimens, dtype=np.float64)),
    ).weighing(prior.scatter**2)
    fitted = _fit_shapes(cells, prior.mean[None], _Pull(prior.mean, inverse(prior.covariance)))
    _, rows = _log_growth(cells.log_maturity[0], fitted.shapes[0])
    total = cells.weight[0].sum()
    mean_row = cells.weight[0] @ rows / total
    joint = np.empty((3, 3))
    joint[1:, 1:] = fitted.covariances[0]
    joint[0, 1:] = joint[1:, 0] = -fitted.covariances[0] @ mean_row
    joint[0, 0] = 1.0 / total + mean_row @ fitted.covariances[0] @ mean_row
    return ShapeFit(log_ultimate=float(fitted.levels[0]), shape=fitted.shapes[0], covariance=joint)


class _Cells(NamedTuple):
    """Log means of mixes, ``(n_mixes, n_ages)`` each."""

    log_maturity: FloatArray
    log_mean: FloatArray
    weight: FloatArray

    def weighing(self, variance: float) -> _Cells:
        """The same cells, weights over the variance of one specimen."""
        return self._replace(weight=self.weight / variance)


class _Pull(NamedTuple):
    """The normal law of the shapes as a penalty."""

    mean: FloatArray  # (2,)
    penalty: FloatArray  # inverse covariance, (2, 2)


class _Fitted(NamedTuple):
    """Mixes fitted under a penalty."""

    shapes: FloatArray  # (n_mixes, 2)
    levels: FloatArray  # (n_mixes,)
    covariances: FloatArray  # of the shapes, (n_mixes, 2, 2)
    squares: FloatArray  # weighted sum of squared residuals, (n_mixes,)


def _log_growth(log_maturity: FloatArray, shape: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Log of the degree of growth and its derivatives by (ln tau, ln a): ``(..., n)`` and ``(..., n, 2)``."""
    a = np.exp(shape[..., 1, None])
    behind = shape[..., 0, None] - log_maturity
    power = np.exp(np.clip(a * behind, -50.0, 50.0))
    return -power, np.stack([-a * power, -a * behind * power], axis=-1)


def _fit_shapes(cells: _Cells, start: FloatArray, pull: _Pull) -> _Fitted:
    """Penalised Gauss-Newton of all mixes at once, levels profiled out; a step that makes a mix worse is halved."""
    shapes = start
    loss, levels, squares = _penalised_loss(cells, shapes, pull)
    for _ in range(N_STEPS):
        gradient, curvature = _gradient(cells, shapes, levels, pull)
        step = np.linalg.solve(curvature, gradient[..., None])[..., 0]
        is_open = np.ones(len(shapes), dtype=np.bool_)
        for halving in range(N_HALVINGS):
            tried = shapes + step * 0.5**halving
            tried[:, 1] = np.clip(tried[:, 1], *LOG_A_BOUNDS)
            tried_loss, tried_levels, tried_squares = _penalised_loss(cells, tried, pull)
            better = is_open & (tried_loss <= loss)
            shapes = np.where(better[:, None], tried, shapes)
            loss, levels = np.where(better, tried_loss, loss), np.where(better, tried_levels, levels)
            squares = np.where(better, tried_squares, squares)
            is_open &= ~better
            if not is_open.any():
                break
    _, curvature = _gradient(cells, shapes, levels, pull)
    return _Fitted(shapes, levels, inverse(curvature), squares)


def _penalised_loss(cells: _Cells, shapes: FloatArray, pull: _Pull) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Loss, level and weighted squares of every mix, ``(n_mixes,)`` each."""
    growth, _ = _log_growth(cells.log_maturity, shapes)
    levels = np.sum(cells.weight * (cells.log_mean - growth), axis=1) / cells.weight.sum(axis=1)
    squares = np.sum(cells.weight * (cells.log_mean - levels[:, None] - growth) ** 2, axis=1)
    departure = shapes - pull.mean
    return squares + np.einsum("bi,ij,bj->b", departure, pull.penalty, departure), levels, squares


def _gradient(cells: _Cells, shapes: FloatArray, levels: FloatArray, pull: _Pull) -> tuple[FloatArray, FloatArray]:
    """Downhill direction and curvature of half the loss: ``(n_mixes, 2)`` and ``(n_mixes, 2, 2)``."""
    growth, rows = _log_growth(cells.log_maturity, shapes)
    residual = cells.log_mean - levels[:, None] - growth
    mean_row = np.einsum("bi,bij->bj", cells.weight, rows) / cells.weight.sum(axis=1)[:, None]
    centred = rows - mean_row[:, None, :]
    gradient = np.einsum("bi,bi,bij->bj", cells.weight, residual, centred) - (shapes - pull.mean) @ pull.penalty
    return gradient, np.einsum("bi,bij,bik->bjk", cells.weight, centred, centred) + pull.penalty
