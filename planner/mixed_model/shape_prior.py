"""The shape prior: mixes of different strength that share the shape of their growth.

    ln S(t) = ln Su - (tau / t)^a,    (ln tau, ln a) ~ N(m, C) over the mixes, ln Su free

The strength of a mix is its own affair; what the other mixes teach is how growth runs. Mean and covariance of the
shapes and the relative scatter about the curves are found by expectation and maximisation, each mix by a
penalised Gauss-Newton fit of its log means. Use it where mixes differ widely in strength; for batches of one mix the
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
from planner.terms.arrays import FloatArray, IntArray

FEWEST_MIXES = 3
N_ROUNDS = 25  # of expectation and maximisation
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
        a, behind = np.exp(self.shape[1]), self.shape[0] - log_maturity
        power = np.exp(np.clip(a * behind, -50.0, 50.0))
        jacobian = np.stack([np.ones_like(power), -a * power, -a * behind * power], axis=1)
        variance = np.einsum("ij,jk,ik->i", jacobian, self.covariance, jacobian)
        return np.exp(self.log_ultimate - power), np.sqrt(variance)


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
    cells = _Cells.of(maturity_h, mean_mpa, n_specimens)
    mean = np.array([np.log(np.median(maturity_h[n_specimens > 0])) - 1.0, np.log(0.6)])
    weak = np.diag(np.square(WEAK_SHAPE_SD))
    covariance, variance = 4.0 * weak, 0.05**2
    shapes = np.tile(mean, (n_mixes, 1))
    for _ in range(N_ROUNDS):
        penalty = inverse(covariance)
        shapes, covariances, squares = cells.fitted(shapes, mean, penalty, variance)
        mean = shapes.mean(axis=0)
        departure = shapes - mean
        spread = np.einsum("bi,bj->ij", departure, departure) + covariances.sum(axis=0)
        covariance = (spread + weak) / (n_mixes + 1)
        # what the breaks decide: one strength a mix, and of its shape what the other mixes leave to them
        decided = 3.0 * n_mixes - np.einsum("bij,ji->", covariances, penalty)
        variance = max(variance * squares / max(cells.n_held.sum() - decided, 1.0), LEAST_SCATTER**2)
    return ShapePrior(mean=mean, covariance=covariance, scatter=float(np.sqrt(variance)), n_mixes=n_mixes)


def fit_shape(prior: ShapePrior, maturity_h: ArrayLike, mean_mpa: ArrayLike, n_specimens: ArrayLike) -> ShapeFit:
    """Fit one mix: its strength from its own breaks, its shape from them and from the other mixes, ``(n_ages,)`` each.

    One age is enough.
    """
    from planner.mixed_model.shape_loops import fit_one

    log_maturity = np.log(np.atleast_1d(np.asarray(maturity_h, dtype=np.float64)))
    log_mean = np.log(np.atleast_1d(np.asarray(mean_mpa, dtype=np.float64)))
    weight = np.atleast_1d(np.asarray(n_specimens, dtype=np.float64)) / prior.scatter**2
    log_tau, log_a, log_ultimate, _square, v00, v01, v11, *mean_row = fit_one(
        len(log_mean), log_maturity, log_mean, weight, *prior.mean.tolist(), prior.mean, inverse(prior.covariance),
        np.empty((2, len(log_mean))),
    )  # fmt: skip
    own = np.array([[v00, v01], [v01, v11]])
    joint = np.empty((3, 3))
    joint[1:, 1:] = own
    joint[0, 1:] = joint[1:, 0] = -own @ np.array(mean_row)
    joint[0, 0] = 1.0 / weight.sum() + np.array(mean_row) @ own @ np.array(mean_row)
    return ShapeFit(log_ultimate=float(log_ultimate), shape=np.array([log_tau, log_a]), covariance=joint)


class _Cells(NamedTuple):
    """Log means of mixes, those that are held first in every row, ``(n_mixes, n_ages)`` each."""

    log_maturity: FloatArray
    log_mean: FloatArray
    n_specimens: FloatArray
    n_held: IntArray  # cells that are held, (n_mixes,)

    @classmethod
    def of(cls, maturity_h: FloatArray, mean_mpa: FloatArray, n_specimens: FloatArray) -> _Cells:
        """Move holes to the end of their rows."""
        held = n_specimens > 0
        order = np.argsort(~held, axis=1, kind="stable")
        log_maturity, log_mean = (np.log(np.where(held, values, 1.0)) for values in (maturity_h, mean_mpa))
        return cls(
            np.take_along_axis(log_maturity, order, axis=1),
            np.take_along_axis(log_mean, order, axis=1),
            np.take_along_axis(np.where(held, n_specimens, 0.0), order, axis=1),
            held.sum(axis=1),
        )

    def fitted(
        self, start: FloatArray, mean: FloatArray, penalty: FloatArray, variance: float
    ) -> tuple[FloatArray, FloatArray, float]:
        """Shapes ``(n_mixes, 2)``, their covariances ``(n_mixes, 2, 2)``, and all weighted squares."""
        from planner.mixed_model.shape_loops import fit_one

        shapes, covariances, squares = np.empty_like(start), np.empty((len(start), 2, 2)), 0.0
        rows = np.empty((2, self.log_mean.shape[1]))
        weight = self.n_specimens / variance
        for b in range(len(start)):
            shapes[b, 0], shapes[b, 1], _log_ultimate, square, v00, v01, v11, _m0, _m1 = fit_one(
                int(self.n_held[b]), self.log_maturity[b], self.log_mean[b], weight[b], start[b, 0], start[b, 1], mean,
                penalty, rows,
            )  # fmt: skip
            covariances[b] = ((v00, v01), (v01, v11))
            squares += square
        return shapes, covariances, squares
