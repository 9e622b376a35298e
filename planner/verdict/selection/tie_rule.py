"""The choosing rule, repeated in every world of batches that might have been cast.

A world is a count vector w over the batches: w_b times batch b, see
:mod:`planner.verdict.statistics.bootstrap_weights`. The rule sees the batches with ``w_b > 0`` only and is judged on
the others. One compiled routine serves the full records (all counts 1), leave-one-batch-out (one count 0) and the
bootstrap, so that all three obey the same rule to the last digit.
Nothing here depends on the number of workers: every row of counts is computed alone, in a fixed order of
additions.

References
----------
Tsamardinos, Greasidou and Borboudakis 2018, Machine Learning 107:1895.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import TypeVar

import numpy as np

from planner.resampling.errors.arithmetic import TIE_FACTOR, floored_square
from planner.terms.arrays import BoolArray, FloatArray, IntArray, SingleArray

Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BootstrapVerdict:
    """The rule over all worlds, judged on the batches each world leaves out."""

    mean_square: float  # of the recommended, the cheapest tied with the best; unfloored, may be below 0
    best_mean_square: float  # of always taking the lowest loss
    inclusion: FloatArray  # how often each choice is recommended, shape (n_choices,), sums to 1
    best_inclusion: FloatArray  # how often each has the lowest loss, shape (n_choices,), sums to 1
    n_worlds: int


def apply_rule(
    loss: FloatArray,
    variance: FloatArray | SingleArray,
    over: BoolArray,
    rank: IntArray,
    counts: IntArray,
    *,
    level: FloatArray | SingleArray | None = None,
    size: IntArray | None = None,
    limits: IntArray | None = None,
) -> tuple[IntArray, IntArray]:
    """The best and the recommended choice in every world.

    Best is the lowest mean loss, among equals the cheapest. Tied with it is every choice with (1) a mean of
    the paired loss differences of at most one standard error, ``sd / sqrt(sum w)``; (2) a mean loss ahead of
    the best one's by at most 0.21 of its mean square, and at most 1.21 times its mean variance, so that
    neither root grows by more than 10 %; (3) no training batch over-predicted beyond tolerance where the
    best is not. The cheapest of the tied is recommended, among equally cheap ones the lowest mean loss.
    Means and deviations count batch b ``w_b`` times; with ``sum w = 1`` there is no deviation and only a
    loss no larger than the best one's ties.

    Parameters
    ----------
    loss
        Ranking loss, not negative, shape ``(n_choices, n_batches)``.
    variance
        Variance of the prediction, not negative, same shape.
    over
        Is it over-predicted beyond tolerance, same shape.
    rank
        Cheapness, lower is cheaper, equals allowed, shape ``(n_choices,)``.
    counts
        One world per row, not negative, shape ``(n_worlds, n_batches)``.
    level
        Unbiased squared error. The mean square in (2) is that of its mean, floored at the mean variance: the
        loss holds the noise of the measured truth and would let through what is worse by more than 10 %.
        Where None the mean loss itself.
    size, limits
        Sizes of the choices ``(n_choices,)``, and limits on them: the rule is applied under each anew.

    Returned are the positions of the best and of the recommended choice, each of shape ``(n_worlds,)``, with
    limits ``(n_limits, n_worlds)``.
    """
    _check_rule_inputs(loss, variance, over, rank, counts, size=size, limits=limits)
    by_rank = np.argsort(rank, kind="stable")
    # batches first: the inner loops then run along the choices
    losses = np.take(loss.T, by_rank, axis=1).astype(np.float64, copy=False)
    variances = np.take(variance.T, by_rank, axis=1)
    overs = np.take(over.T, by_rank, axis=1).astype(np.bool_, copy=False)
    worlds = np.ascontiguousarray(counts, dtype=np.int64)
    levels = losses if level is None else np.take(level.T, by_rank, axis=1)
    sizes = np.zeros(len(rank), dtype=np.int64) if size is None else np.asarray(size, dtype=np.int64)[by_rank]
    asked = np.zeros(1, dtype=np.int64) if limits is None else np.asarray(limits, dtype=np.int64)
    best, chosen = _compiled(_best_and_cheapest_tied)(
        losses, variances, levels, overs, np.ascontiguousarray(rank[by_rank]), sizes, worlds, asked, TIE_FACTOR,
        level is not None,
    )  # fmt: skip
    if limits is None:
        best, chosen = best[0], chosen[0]
    return by_rank[best], by_rank[chosen]


def tied(
    loss: FloatArray,
    variance: FloatArray | SingleArray,
    over: BoolArray,
    best: int,
    *,
    level: FloatArray | SingleArray | None = None,
) -> BoolArray:
    """Which choices are tied with the best on these batches, each counted once; see `apply_rule`.

    Shapes as there; returned are truths, shape ``(n_choices,)``.
    """
    n_batches = loss.shape[1]
    steps = loss - loss[best]
    behind = steps.mean(axis=1)
    error = np.sqrt(steps.var(axis=1, ddof=1) / n_batches) if n_batches > 1 else np.zeros(len(loss))
    is_worse_over = np.any(over & ~over[best], axis=1)
    square = loss[best].mean() if level is None else floored_square(level[best], variance[best])
    return np.asarray(
        (behind <= error)
        & (behind <= (TIE_FACTOR - 1.0) * square)
        & (variance.mean(axis=1) <= TIE_FACTOR * variance[best].mean())
        & ~is_worse_over
    )


def bootstrap_rule(
    loss: FloatArray,
    variance: FloatArray | SingleArray,
    level: FloatArray | SingleArray,
    over: BoolArray,
    rank: IntArray,
    *,
    counts: IntArray,
    probability: FloatArray,
    is_capped_by_level: bool = False,
) -> BootstrapVerdict:
    """The rule in every world, judged by the unfloored squared error on the batches left out.

    ``sum_w P(w) mean_{b: w_b = 0} level[choice_w, b]``; the first five as in `apply_rule`, and

    Parameters
    ----------
    level
        Estimated squared error, unfloored, shape ``(n_choices, n_batches)``.
    counts, probability
        From `bootstrap_weights`; every world leaves a batch out.
    is_capped_by_level
        Hand the level to the rule as well.
    """
    if level.shape != loss.shape or not np.all(np.isfinite(level)):
        raise ValueError(f"The level must be finite and of shape {loss.shape}, given shape {level.shape}.")
    is_held_out = counts == 0
    if not is_held_out.any(axis=1).all():
        raise ValueError("Every world must leave a batch out. Take the counts from bootstrap_weights.")
    best, chosen = apply_rule(loss, variance, over, rank, counts, level=level if is_capped_by_level else None)

    def judged(picked: IntArray) -> tuple[float, FloatArray]:
        held_out = np.sum(level[picked].astype(np.float64) * is_held_out, axis=1) / is_held_out.sum(axis=1)
        inclusion = np.zeros(loss.shape[0])
        np.add.at(inclusion, picked, probability)
        return float(np.sum(probability * held_out)), inclusion

    mean_square, inclusion = judged(chosen)
    best_mean_square, best_inclusion = judged(best)
    return BootstrapVerdict(
        mean_square=mean_square,
        best_mean_square=best_mean_square,
        inclusion=inclusion,
        best_inclusion=best_inclusion,
        n_worlds=counts.shape[0],
    )


def _check_rule_inputs(
    loss: FloatArray,
    variance: FloatArray | SingleArray,
    over: BoolArray,
    rank: IntArray,
    counts: IntArray,
    *,
    size: IntArray | None,
    limits: IntArray | None,
) -> None:
    wrong = []
    if loss.ndim != 2 or 0 in loss.shape:
        raise ValueError(f"Losses need a row per choice and a column per batch, given shape {loss.shape}.")
    n_choices, n_batches = loss.shape
    if variance.shape != loss.shape or over.shape != loss.shape:
        wrong.append(f"variance {variance.shape} and over {over.shape} must have shape {loss.shape}")
    if not (np.all(np.isfinite(loss)) and np.all(loss >= 0.0)):
        wrong.append("losses must be finite and not negative")
    if not (np.all(np.isfinite(variance)) and np.all(variance >= 0.0)):
        wrong.append("variances must be finite and not negative")
    if rank.shape != (n_choices,):
        wrong.append(f"there must be {n_choices} ranks")
    if counts.ndim != 2 or counts.shape[1] != n_batches:
        wrong.append(f"counts must have {n_batches} columns, given shape {counts.shape}")
    elif size is not None and (size.shape != rank.shape or limits is None or np.any(limits < size.min())):
        wrong.append(f"there must be {n_choices} sizes, and limits that some choice keeps")
    elif np.any(counts < 0) or np.any(counts.sum(axis=1) < 1):
        wrong.append("counts must not be negative and every world needs a batch")
    if wrong:
        raise ValueError("The rule cannot be applied: " + "; ".join(wrong) + ".")


@cache
def _compiled(function: Callable[..., Answer]) -> Callable[..., Answer]:
    """The same function as machine code. Compiled on first use, so that importing this file stays cheap."""
    from planner.compiled import njit

    compiled: Callable[..., Answer] = njit(cache=True, nogil=True)(function)
    return compiled


def _best_and_cheapest_tied(
    losses: FloatArray,
    variances: FloatArray,
    levels: FloatArray,
    overs: BoolArray,
    ranks: IntArray,
    sizes: IntArray,
    counts: IntArray,
    limits: IntArray,
    factor: float,
    is_floored: bool,
) -> tuple[IntArray, IntArray]:
    """Lowest weighted sum in every world under every limit, the first among equals, and the cheapest tied with it.

    Choices are sorted by rank; where none cheaper is tied, the best itself is chosen.
    """
    n_batches, n_choices = losses.shape
    best = np.empty((limits.shape[0], counts.shape[0]), dtype=np.int64)
    chosen = np.empty_like(best)
    sums = np.empty(n_choices)
    for world in range(counts.shape[0]):
        sums[:] = 0.0
        n_total = 0
        for batch in range(n_batches):
            weight = counts[world, batch]
            n_total += weight
            if weight > 0:
                for choice in range(n_choices):
                    sums[choice] += weight * losses[batch, choice]
        for at, most in enumerate(limits):
            top = -1
            for choice in range(n_choices):
                if sizes[choice] <= most and (top < 0 or sums[choice] < sums[top]):
                    top = choice
            top_square = 0.0
            top_variance = 0.0
            for batch in range(n_batches):
                top_square += counts[world, batch] * levels[batch, top]
                top_variance += counts[world, batch] * variances[batch, top]
            if is_floored:
                top_square = max(top_square, top_variance)
            cap = (factor - 1.0) * top_square
            # Two sums differ by more rounding than a sum of differences: what is clearly behind is passed over.
            too_far = sums[top] + cap + 1e-9 * (abs(cap) + sums[top])
            found = -1
            least_behind = 0.0
            for choice in range(top):
                if found >= 0 and ranks[choice] != ranks[found]:
                    break
                if sums[choice] > too_far or sizes[choice] > most:
                    continue
                behind = 0.0
                squares = 0.0
                sum_variance = 0.0
                is_worse_over = False
                for batch in range(n_batches):
                    weight = counts[world, batch]
                    step = losses[batch, choice] - losses[batch, top]
                    behind += weight * step
                    squares += weight * step * step
                    sum_variance += weight * variances[batch, choice]
                    is_worse_over |= weight > 0 and overs[batch, choice] and not overs[batch, top]
                is_near = behind <= cap and sum_variance <= factor * top_variance
                # n times the mean against n standard errors; where cancellation could hurt, the mean is far above
                spread = max(0.0, squares - behind * behind / n_total) * n_total / max(1, n_total - 1)
                is_tied = is_near and not is_worse_over and behind <= np.sqrt(spread)
                if is_tied and (found < 0 or behind < least_behind):
                    found = choice
                    least_behind = behind
            # within its own rank nothing is lower than the best
            best[at, world] = top
            chosen[at, world] = found if found >= 0 and ranks[found] != ranks[top] else top
    return best, chosen
