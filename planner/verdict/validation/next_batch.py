"""The curve of one trial batch, read on a later pour of the same mix: what a crew meets.

With independent relative departures of variance tau^2 between batches, the error of a pair is the own-batch
error plus the difference of two departures: ``tau^2 (1 + 1/m)`` when the curve is the mean of m trial
batches. Batches are the clusters, so bounds count batches and not pairs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from planner.evidence import Cells
from planner.resampling import ErrorMatrix, PairErrors, Scoring, pair_errors
from planner.resampling.errors import arithmetic
from planner.resampling.errors.arithmetic import BOUND_CONFIDENCE, FEWEST_FOR_BOUNDS
from planner.resampling.errors.later_pours.trial_means import mean_squares, of_trial_batches
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.results.recommended.validation_figures import NextBatchVerdict
from planner.verdict.selection.nested import Nested
from planner.verdict.selection.programmes.programme import TOLD_TRIAL_BATCHES
from planner.verdict.statistics.coverage_bounds import share_inside_lower, share_inside_lower_at


@dataclass(frozen=True, slots=True, eq=False)
class NextBatchErrors:
    """Next-batch errors of as many trial batches as were chosen, gathered over the folds."""

    error: FloatArray  # signed, measured, (n_readings,)
    level: FloatArray  # unbiased squares, (n_readings,)
    read_on: IntArray  # (n_readings,)
    pair: IntArray  # a number for each curve on each pour, (n_readings,)
    target: IntArray  # (n_readings,)
    weight: FloatArray  # sums to 1
    n_batches: int  # read on
    squares: FloatArray  # mean unbiased square with 1, 2, 3 trial batches, NaN where it cannot be told


def next_batch_errors(matrix: ErrorMatrix, cells: Cells, scoring: Scoring, nested: Nested) -> NextBatchErrors | None:
    """Each left-out batch read by choices that had not seen it; None without pairs.

    Where the choice without two units is known, the trial batch of a reading had no part in it either: what is chosen
    on a batch fits that batch too well. How many trial batches there are is what was taken without the pour.
    """
    unit_of = dict(zip(cells.views.batch, cells.views.unit.tolist(), strict=True))
    row_of = np.full(cells.n_units, -1)  # taken without a pour
    n_trial_batches = np.zeros(cells.n_units, dtype=np.int64)
    for unit, pick in zip(nested.units.tolist(), nested.picks, strict=True):
        row_of[unit], n_trial_batches[unit] = pick.chosen, pick.n_trial_batches
    parts: dict[int, list[PairErrors]] = {}
    for row in sorted({*row_of[nested.units].tolist(), *nested.without_two.values()}):
        pairs = pair_errors(cells, scoring, matrix.choices, matrix.choice_of(row), matrix.joint_of(row))
        if pairs is None:
            continue
        units = np.array([unit_of[name] for name in pairs.batches])
        trial, pour = units[pairs.calibrated_on], units[pairs.read_on]
        judged_by = row_of[pour]
        for (one, other), instead in nested.without_two.items():
            is_pair = ((trial == one) & (pour == other)) | ((trial == other) & (pour == one))
            judged_by[is_pair & (judged_by >= 0)] = instead
        is_own = judged_by == row
        for number in np.unique(n_trial_batches[pour[is_own]]).tolist():
            parts.setdefault(number, []).append(pairs.take(is_own & (n_trial_batches[pour] == number)))
    return gathered([(PairErrors.together(some), number) for number, some in parts.items()], scoring)


def gathered(parts: Sequence[tuple[PairErrors, int]], scoring: Scoring) -> NextBatchErrors | None:
    """Put readings together, each part with its own number of trial batches; None without any."""
    held = [(pairs, number) for pairs, number in parts if pairs.error.size]
    if not held:
        return None
    several = [of_trial_batches(pairs, scoring, number) for pairs, number in held]
    error, level, read_on, pair, target, weight = (
        np.concatenate([getattr(pairs, name) for pairs in several])
        for name in ("error", "level", "read_on", "pair", "target", "weight")
    )
    total = weight.sum()
    squares = np.sum([mean_squares(pairs, scoring, TOLD_TRIAL_BATCHES) for pairs, _ in held], axis=0) / total
    return NextBatchErrors(error, level, read_on, pair, target, weight / total, len(np.unique(read_on)), squares)


def next_batch_verdict(
    errors: NextBatchErrors, scoring: Scoring, *, own_level: float, own_rms: float
) -> NextBatchVerdict:
    """What the pairs say of a later pour.

    Parameters
    ----------
    own_level
        Unfloored mean square of the own-batch error, nested.
    own_rms
        Its floored root: a later pour is never read better than the batch itself.
    """
    mean_square = max(float(errors.weight @ errors.level), own_rms**2)
    rms = float(np.sqrt(mean_square))
    between = max(mean_square - max(own_level, 0.0), 0.0) / 2.0
    bias, second_moment = float(errors.weight @ errors.error), float(errors.weight @ errors.error**2)
    narrowed = arithmetic.narrowed(errors.error, bias, arithmetic.narrowing(mean_square, second_moment, bias))
    n_degrees = max(errors.n_batches - 1, 1)
    is_bounded = errors.n_batches >= FEWEST_FOR_BOUNDS and not scoring.is_by_mix
    inside = arithmetic.share_of_units(np.abs(narrowed) <= scoring.tolerance, errors.weight, errors.pair, errors.target)
    return NextBatchVerdict(
        rms=rms,
        rms_upper_95=rms * float(np.sqrt(n_degrees / chdtri(n_degrees, BOUND_CONFIDENCE))) if is_bounded else None,
        within_tolerance=inside,
        within_tolerance_lower_95=inside_lower(errors, inside, tolerance=scoring.tolerance) if is_bounded else None,
        over_predicted_any=_share(errors, narrowed > 0),
        over_predicted_beyond_tolerance=_share(errors, narrowed > scoring.tolerance),
        between_batch_cv=float(np.sqrt(between)),
        rms_by_trial_batches=tuple(
            float(np.sqrt(max(square, own_rms**2 / m)))
            for m, square in zip(TOLD_TRIAL_BATCHES, errors.squares.tolist(), strict=True)
            if np.isfinite(square)
        ),
        basis="pairs of batches",
    )


def stated_verdict(between_batch_cv: float, scoring: Scoring, *, own_level: float, own_rms: float) -> NextBatchVerdict:
    """The same from a stated spread between batches, errors taken as normal and as wide at every target."""
    between = between_batch_cv**2
    rms = trial_batches(own_level, own_rms, between)[0]
    weight = np.array(scoring.target_weights)
    return NextBatchVerdict(
        rms=rms,
        rms_upper_95=None,
        within_tolerance=arithmetic.share_of_normal_units(
            np.zeros(len(weight)),
            np.full(len(weight), rms),
            scoring.tolerance,
            weight,
            np.zeros(len(weight), dtype=np.int64),
            np.arange(len(weight)),
        ),
        within_tolerance_lower_95=None,
        over_predicted_any=0.5,
        over_predicted_beyond_tolerance=float(arithmetic.share_beyond(0.0, rms, scoring.tolerance)),
        between_batch_cv=between_batch_cv,
        rms_by_trial_batches=trial_batches(own_level, own_rms, between),
        basis="stated between-batch CV",
    )


def trial_batches(own_level: float, own_rms: float, between: float) -> tuple[float, ...]:
    """RMS on a later pour with the curve of 1, 2, 3 trial batches, where single readings are not at hand.

    How much of the own part is the curve's own bias is not told, and a bias does not shrink: it is kept whole.
    """
    own = max(own_level, own_rms**2)
    return tuple(float(np.sqrt(own + between * (1.0 + 1.0 / m))) for m in TOLD_TRIAL_BATCHES)


def batch_equivalents(errors: NextBatchErrors) -> FloatArray:
    """One signed error for each batch read on, with the mean and the spread of the pairs.

    Pairs that share a batch move together; as many independent errors as batches carry what they know.
    """
    read, at = np.unique(errors.read_on, return_inverse=True)
    means = np.bincount(at, weights=errors.weight * errors.error) / np.bincount(at, weights=errors.weight)
    mean = float(errors.weight @ errors.error)
    spread = float(np.sqrt(errors.weight @ (errors.error - mean) ** 2))
    deviation = means - means.mean()
    own = float(np.std(deviation, ddof=1)) if len(read) > 1 else 0.0
    return np.asarray(mean + (deviation * (spread / own) if own > 0 else np.zeros_like(deviation)))


def inside_lower(errors: NextBatchErrors, share: float, *, tolerance: float) -> float | None:
    """Lower 95 % bound on the share of pours that keep every target, estimated as `share`.

    Each pair counts by the target it is worst at; of several targets the bound is never above the one of `share`.
    """
    lower = share_inside_lower(batch_equivalents(at_worst_target(errors)), tolerance=tolerance)
    if lower is None or len(np.unique(errors.target)) == 1:
        return lower
    return min(lower, share_inside_lower_at(share, errors.n_batches))


def at_worst_target(errors: NextBatchErrors) -> NextBatchErrors:
    """Every pair of curve and pour by the target of largest mean square alone, which weighs as all of them did."""
    pairs, of_pair = np.unique(errors.pair, return_inverse=True)
    targets, at_target = np.unique(errors.target, return_inverse=True)
    shape = (len(pairs), len(targets))
    group = of_pair * len(targets) + at_target
    weight, square = (
        np.bincount(group, weights=values, minlength=len(pairs) * len(targets)).reshape(shape)
        for values in (errors.weight, errors.weight * errors.error**2)
    )
    worst = np.argmax(square / np.where(weight > 0.0, weight, np.inf), axis=1)
    kept = np.flatnonzero(at_target == worst[of_pair])
    times = weight.sum(axis=1) / weight[np.arange(len(pairs)), worst]
    return NextBatchErrors(
        error=errors.error[kept],
        level=errors.level[kept],
        read_on=errors.read_on[kept],
        pair=errors.pair[kept],
        target=errors.target[kept],
        weight=errors.weight[kept] * times[of_pair[kept]],
        n_batches=errors.n_batches,
        squares=errors.squares,
    )


def _share(errors: NextBatchErrors, is_counted: BoolArray) -> float:
    """Weight of the pairs counted; weights that sum to 1 may add up to a last digit more."""
    return min(float(errors.weight @ is_counted), 1.0)
