"""A monotone curve of log strength over log maturity through the means of the earlier batches.

Monotone by isotonic regression of the means, smooth between them by a monotone cubic, straight beyond them.
Its slope says how far a batch that hardens faster or slower than the others departs from them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from planner.terms.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class MeanCurve:
    """Log strength over log maturity, cubic between knots.

    References
    ----------
    Fritsch and Carlson 1980, SIAM J. Numer. Anal. 17:238, for the monotone cubic.
    Fritsch and Butland 1984, SIAM J. Sci. Stat. Comput. 5:300, for the slopes inside (memory); as scipy's PCHIP.
    """

    log_maturity: FloatArray  # knots, strictly rising, (n_knots,)
    log_mpa: FloatArray  # never falling, (n_knots,)
    slope: FloatArray  # d log strength / d log maturity at the knots, 0 or more, (n_knots,)
    _pieces: tuple[FloatArray, ...] = field(init=False, repr=False)  # width and coefficients between the knots

    def __post_init__(self) -> None:
        width, rise = np.diff(self.log_maturity), np.diff(self.log_mpa)
        first, last = self.slope[:-1] * width, self.slope[1:] * width
        pieces = (width, first, 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise)
        object.__setattr__(self, "_pieces", pieces)  # looked up thousands of times, worked out once

    def at(self, log_maturity: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Log strength and its slope, each in the shape that is given. Straight beyond the knots."""
        at = np.asarray(log_maturity, dtype=np.float64)
        knots = self.log_maturity
        inside = np.minimum(np.maximum(at, knots[0]), knots[-1])
        left = np.minimum(np.searchsorted(knots, inside, side="right") - 1, len(knots) - 2)
        width, first, square, cube = (piece[left] for piece in self._pieces)
        u = (inside - knots[left]) / width
        slope = (first + u * (2.0 * square + 3.0 * u * cube)) / width
        value = self.log_mpa[left] + u * (first + u * (square + u * cube)) + (at - inside) * slope
        return value, slope


def mean_curve(log_maturity: FloatArray, log_mpa: FloatArray, weight: FloatArray) -> MeanCurve:
    """Curve through means at knots.

    Parameters
    ----------
    log_maturity
        Log maturity of each mean [ln h], in any order, ``(n_knots,)``, 2 or more.
    log_mpa
        Mean log strength [ln MPa], ``(n_knots,)``.
    weight
        Weight of each mean where neighbours fall and are pooled, above 0, ``(n_knots,)``.

    Raises
    ------
    ValueError
        With fewer than two knots, or two at one maturity.
    """
    from scipy.optimize import isotonic_regression

    order = np.argsort(log_maturity, kind="stable")
    knots = log_maturity[order]
    if len(knots) < 2 or not np.all(np.diff(knots) > 0):
        raise ValueError(f"A mean curve needs two maturities or more, all different, given {np.exp(knots).tolist()} h.")
    values = np.asarray(isotonic_regression(log_mpa[order], weights=weight[order]).x, dtype=np.float64)
    return MeanCurve(knots, values, _slopes(knots, values))


def _slopes(knots: FloatArray, values: FloatArray) -> FloatArray:
    """Slopes at the knots of a curve that never falls: weighted harmonic means, at both ends a parabola's."""
    width = np.diff(knots)
    rise = np.diff(values) / width
    if len(rise) == 1:
        return np.repeat(rise, 2)
    before, after = width[:-1] + 2.0 * width[1:], 2.0 * width[:-1] + width[1:]
    is_flat = np.minimum(rise[:-1], rise[1:]) <= 0.0
    left, right = (np.where(is_flat, 1.0, some) for some in (rise[:-1], rise[1:]))
    inner = np.where(is_flat, 0.0, (before + after) / (before / left + after / right))
    ends = [_end_slope(width[:2], rise[:2])], [_end_slope(width[:-3:-1], rise[:-3:-1])]
    return np.concatenate([ends[0], inner, ends[1]])


def _end_slope(width: FloatArray, rise: FloatArray) -> float:
    """Slope at its end of the parabola through three knots, never falling; the piece at the end comes first."""
    slope = ((2.0 * width[0] + width[1]) * rise[0] - width[0] * rise[1]) / (width[0] + width[1])
    return max(float(slope), 0.0)
