"""What the mean curve of several trial batches is worth on a later pour: sums over the records, no enumeration.

The curve of every other batch is read on one pour; ``e_b`` is the relative error of the curve of batch ``b``.
A calibration on ``m`` trial batches reads with their mean curve, so its error is the mean of ``m`` of the
``e_b``. Its expected square over all ways of taking them from a long line of batches is estimated without
bias by :func:`square_of`; among the records themselves it is the exact mean over the subsets of ``m``.
Batches are trial batch and pour at once, so standard errors leave out whole batches, in both roles.
"""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray

FEWEST_TO_SPREAD = 2  # batches that show how batches differ


def moments(error: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean, variance with the divisor n - 1, and number of the errors there are, each ``error.shape[1:]``.

    The mean is NaN without an error; the variance is NaN with fewer than two.
    """
    is_had = np.isfinite(error)
    n_others = is_had.sum(axis=0).astype(np.float64)
    some = np.where(n_others > 0, n_others, np.nan)
    mean = np.where(is_had, error, 0.0).sum(axis=0) / some
    squares = (np.where(is_had, error - mean, 0.0) ** 2).sum(axis=0)
    return mean, squares / np.where(n_others >= FEWEST_TO_SPREAD, n_others - 1.0, np.nan), n_others


def square_of(mean: FloatArray, variance: FloatArray, n_others: FloatArray, n_trial_batches: int) -> FloatArray:
    """Expected square of the mean of `n_trial_batches` errors, from their :func:`moments`, in the shape of `mean`.

    ``mean^2 + variance (1/m - 1/n)``. With more trial batches than there are others it is an extrapolation, see
    :func:`is_extrapolated`. One trial batch of one other is that batch itself: no variance is needed.

    Raises
    ------
    ValueError
        Without a trial batch.
    """
    if n_trial_batches < 1:
        raise ValueError(f"A calibration needs one trial batch or more, given {n_trial_batches}.")
    step = 1.0 / n_trial_batches - 1.0 / np.maximum(n_others, 1.0)
    return np.asarray(mean**2 + np.where(step == 0.0, 0.0, variance * step))


def is_extrapolated(n_others: FloatArray | int, n_trial_batches: int) -> bool:
    """Whether more trial batches are asked for than some pour has others in the records."""
    return bool(np.any(np.asarray(n_others) < n_trial_batches))


def jackknife_error(without: FloatArray) -> FloatArray:
    """Standard error from an estimate repeated without each batch in turn.

    Parameters
    ----------
    without
        The estimate without each of the batches, ``(n_batches, ...)``.

    Returns
    -------
    FloatArray
        ``sqrt((n - 1) / n sum (theta_i - mean theta)^2)``, shape ``without.shape[1:]``.

    References
    ----------
    Tukey's jackknife (Efron and Stein 1981, Annals of Statistics 9:586, from memory).
    """
    n_batches = len(without)
    squares = ((without - without.mean(axis=0)) ** 2).sum(axis=0)
    return np.asarray(np.sqrt((n_batches - 1) / n_batches * squares))
