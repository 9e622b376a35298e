"""The arithmetic of errors: what several rooms work out, defined once.

Errors are relative and signed, predicted over actual less 1; variances are relative to the truth squared, so that
they add to squared errors. The loops over millions of choices use the compiled forms in
:mod:`planner.resampling.errors.compiled_arithmetic`; ``tests/resampling/test_arithmetic.py`` holds both equal.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from planner.terms.arrays import AnyArray, FloatArray

VARIANCE_FACTOR = 2.0  # how often the variance of a schedule's own specimens counts in the loss
TIE_FACTOR = 1.21  # most that mean loss, and variance, of a tied choice may be of the best's: 10 % in RMS
LEAST_DEVIATION = 1e-12  # of a normal law: without any scatter a reading is inside the tolerance or it is not

BOUND_CONFIDENCE = 0.95  # of every bound that is called one
SAFE_READING_CONFIDENCE = 0.90  # of the safe reading; its assurance is the plan's

CAP_IN_TOLERANCES = 2.0  # an error counts in the loss as so many tolerances at the most
FEWEST_TO_CAP = 10  # units: with fewer, one that is far off is too large a part of what is known to be cut

FEWEST_TO_FOLD = 2  # units, for one to be left out
FEWEST_TO_BOOTSTRAP = 3  # units
FEWEST_FOR_BOUNDS = 3  # units: a spread from two would multiply a bound by absurd factors
FEWEST_SHARED = 3  # units two choices must share before one is scored through the other


def loss(
    error: FloatArray, variance: FloatArray, *, over_weight: float = 1.0, variance_factor: float = VARIANCE_FACTOR
) -> FloatArray:
    """What choices are ranked by: expected squared error, over-prediction counted `over_weight` times.

    With mean ``mu = e`` and variance ``s^2 = variance_factor v`` of a normal law, and ``a = mu / s``:
    ``(mu^2 + s^2) (1 + (w - 1) Phi(a)) + (w - 1) mu s phi(a)``; with equal weights ``e^2 + variance_factor v``,
    which is linear in the variance, so that it may be added up over checks before specimens are put in.

    Parameters
    ----------
    error, variance
        Of the fit to the full cell means, and what the schedule's own specimens add; of one shape.
    """
    spread = variance_factor * variance
    plain = error * error + spread
    if over_weight == 1.0:
        return np.asarray(plain)
    deviation = np.sqrt(np.maximum(spread, 1e-300))
    a = error / deviation
    density = np.exp(-0.5 * np.minimum(a * a, 1400.0)) / np.sqrt(2.0 * np.pi)
    return np.asarray(plain * (1.0 + (over_weight - 1.0) * ndtr(a)) + (over_weight - 1.0) * error * deviation * density)


def level(
    error: FloatArray,
    schedule_variance: FloatArray | float,
    prior_variance: FloatArray | float,
    truth_variance: FloatArray | float,
) -> FloatArray:
    """Unbiased squared error against true strength, of one shape. Can be negative: never rank on it.

    The noise that the specimens of the records (`prior_variance`) and of the measured truth put into the error is
    taken out, the noise that the schedule's own specimens will have is put in.
    """
    return np.asarray(error * error + schedule_variance - prior_variance - truth_variance)


def floored_square(level: FloatArray | float, variance: FloatArray | float) -> float:
    """Mean square over units from their levels, floored at what the specimens' scatter alone gives."""
    return float(max(np.mean(level), np.mean(variance)))


def floored_rms(level: FloatArray | float, variance: FloatArray | float) -> float:
    """Root of :func:`floored_square`."""
    return float(np.sqrt(floored_square(level, variance)))


def is_below_resolution(level: FloatArray | float, variance: FloatArray | float) -> bool:
    """Whether the floor acts: the error is smaller than the records can resolve."""
    return bool(np.mean(level) < np.mean(variance))


def narrowing(mean_square: float, second_moment: float, bias: float) -> float:
    """How far errors are drawn together about their bias, so that their mean square is the level; at most 1."""
    spread = second_moment - bias * bias
    wanted = max(mean_square - bias * bias, 0.0)
    return float(np.sqrt(wanted / spread)) if spread > wanted else 1.0


def narrowed(error: FloatArray, bias: float, factor: float) -> FloatArray:
    """Errors drawn together about their bias by the factor of :func:`narrowing`."""
    return np.asarray(bias + factor * (error - bias))


def share_inside(mean: FloatArray | float, deviation: FloatArray | float, tolerance: FloatArray | float) -> FloatArray:
    """Chance that a normal error lies within the tolerance on both sides, of one shape."""
    at_least = np.maximum(deviation, LEAST_DEVIATION)
    return np.asarray(ndtr((tolerance - mean) / at_least) - ndtr((-tolerance - mean) / at_least))


def share_beyond(mean: FloatArray | float, deviation: FloatArray | float, limit: FloatArray | float) -> FloatArray:
    """Chance that a normal error is above a limit: too high by more than that."""
    return np.asarray(ndtr((mean - limit) / np.maximum(deviation, LEAST_DEVIATION)))


def fill_holes(values: FloatArray, reference: FloatArray) -> FloatArray:
    """Losses of choices in units that lack an age of theirs, through a reference that the units hold.

    A hole takes the reference's loss there and the mean lead over the units that both hold, never below 0.

    Parameters
    ----------
    values
        NaN: a hole, ``(n_choices, n_units)``.
    reference
        Loss of one choice, NaN where it has a hole itself, ``(n_units,)``.

    Returns
    -------
    FloatArray
        Shape of `values`; NaN in the reference's own holes.
    """
    is_shared = ~np.isnan(values) & ~np.isnan(reference)
    lead = mean_where(values - reference, is_shared)
    filled = np.maximum(reference + lead[:, None], 0.0)
    return np.asarray(np.where(is_shared, values, filled))


def mean_where(values: AnyArray, is_counted: AnyArray) -> FloatArray:
    """Mean of each row over what is counted, 0 where nothing is, ``(n_rows,)``."""
    return np.asarray(np.where(is_counted, values, 0.0).sum(axis=1) / np.maximum(is_counted.sum(axis=1), 1))
