"""The arithmetic of errors: what several rooms work out, defined once.

Errors are relative and signed, predicted over actual less 1; variances are relative to the truth squared, so that
they add to squared errors. The loops over millions of choices use the compiled forms in
:mod:`planner.resampling.errors.compiled_arithmetic`; ``tests/resampling/test_arithmetic.py`` holds both equal.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray

VARIANCE_FACTOR = 2.0  # how often the variance of a schedule's own specimens counts in the loss
TIE_FACTOR = 1.21  # most that mean loss, and variance, of a tied choice may be of the best's: 10 % in RMS
LEAST_DEVIATION = 1e-12  # of a normal law: without any scatter a reading is inside the tolerance or it is not
TOGETHER = 0.8  # correlation of one unit's errors at two targets; how near that comes: DEVELOPERS.md
COMMON_POINTS = 0.7 * np.arange(-5.0, 6.0)  # of the part that they share, in deviations; they stand for its law
COMMON_WEIGHTS = np.exp(-0.5 * COMMON_POINTS**2) / np.exp(-0.5 * COMMON_POINTS**2).sum()

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


def share_of_units(is_inside: BoolArray | FloatArray, weight: FloatArray, unit: IntArray, target: IntArray) -> float:
    """Share of units with every target inside, of single errors: the worst target of a unit and draw is the unit's.

    A target with several checks counts by its weighted share of checks inside.

    Parameters
    ----------
    is_inside
        Of each check, and of each draw where errors are drawn, ``(n_checks,)`` or ``(n_draws, n_checks)``.
    weight
        Of each check, 0 where it does not count; a unit weighs as its checks do together, ``(n_checks,)``.
    unit, target
        Of each check, ``(n_checks,)``. What is read together is a unit: a batch, or a curve on a pour.
    """
    by_target, of_unit = _targets_of_units(np.asarray(is_inside), weight, unit, target)
    return float(np.mean(np.sum(by_target.min(axis=-1) * of_unit, axis=-1)) / np.sum(of_unit))


def share_of_normal_units(
    mean: FloatArray,
    deviation: FloatArray,
    tolerance: float,
    weight: FloatArray,
    unit: IntArray,
    target: IntArray,
) -> float:
    """The same of normal errors, which a part common to all targets of the unit moves together.

    With ``r`` the correlation `TOGETHER`, the error at a check is ``mean + deviation (sqrt(r) z + sqrt(1 - r) x)``, z
    the unit's and x the target's own. Given z the targets are independent: their chances are multiplied, then the mean
    is taken over z.

    Parameters
    ----------
    mean, deviation
        Of each check, ``(n_checks,)``.
    weight, unit, target
        As of :func:`share_of_units`.
    """
    if len(np.unique(target)) == 1:
        return share_of_units(share_inside(mean, deviation, tolerance), weight, unit, target)
    moved = mean + np.sqrt(TOGETHER) * deviation * COMMON_POINTS[:, None]
    chance = share_inside(moved, np.sqrt(1.0 - TOGETHER) * deviation, tolerance)
    by_target, of_unit = _targets_of_units(chance, weight, unit, target)
    return float(np.sum(COMMON_WEIGHTS @ by_target.prod(axis=-1) * of_unit) / np.sum(of_unit))


def _targets_of_units(
    inside: AnyArray, weight: FloatArray, unit: IntArray, target: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Share inside at every target of every unit, 1 where it has none, and the weights of the units.

    Returns
    -------
    tuple
        ``(..., n_units, n_targets)`` and ``(n_units,)``.
    """
    kept = np.flatnonzero(weight > 0.0)
    units, of_check = np.unique(unit[kept], return_inverse=True)
    targets, at_check = np.unique(target[kept], return_inverse=True)
    group = of_check * len(targets) + at_check
    order = np.argsort(group, kind="stable")
    first = np.flatnonzero(np.diff(group[order], prepend=-1))
    own = weight[kept][order]
    total = np.add.reduceat(own, first)
    found = np.add.reduceat(inside[..., kept[order]] * own, first, axis=-1) / total
    by_target = np.ones((*inside.shape[:-1], len(units) * len(targets)))
    by_target[..., group[order][first]] = found
    of_unit = np.asarray(np.bincount(of_check, weights=weight[kept]), dtype=np.float64)
    return by_target.reshape(*inside.shape[:-1], len(units), len(targets)), of_unit


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
