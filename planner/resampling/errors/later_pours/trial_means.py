"""Errors of the mean curve of several trial batches, subset by subset, from the errors of single ones."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import comb

import numpy as np

from planner.resampling.errors.later_pours.cross_batch import PairErrors
from planner.resampling.errors.later_pours.later_pour import moments, square_of
from planner.resampling.errors.scoring import Scoring
from planner.terms.arrays import FloatArray, IntArray

MOST_SUBSETS = 300  # of the trial batches of one check; of more, an even choice


def of_trial_batches(pairs: PairErrors, scoring: Scoring, n_trial_batches: int) -> PairErrors:
    """The same readings with the mean curve of several trial batches, for every way of taking them.

    A reading whose check has fewer other batches than that takes them all. The levels of all subsets of a check
    have the mean that :func:`planner.resampling.errors.later_pours.later_pour.square_of` gives.
    """
    if n_trial_batches == 1 or not pairs.error.size:
        return pairs
    rows: list[tuple[FloatArray, ...]] = []
    numbers: dict[tuple[int, ...], int] = {}  # of the sets of trial batches: one curve, whatever it is read at
    for check, here in _check_by_check(pairs):
        batch, error, excess = _by_batch(here, float(scoring.truth_variance[check]))
        taken = _subsets(len(error), min(n_trial_batches, len(error)))
        mean = error[taken].mean(axis=1)
        noise = excess[taken].mean(axis=1) / taken.shape[1] - scoring.truth_variance[check]
        n = len(taken)
        rows.append((
            mean,
            mean**2 + noise,
            np.array([numbers.setdefault(tuple(some), len(numbers)) for some in batch[taken].tolist()]),
            np.full(n, here.read_on[0]),
            np.full(n, here.target[0]),
            np.full(n, here.weight.sum() / n),
            np.full(n, check),
        ))  # fmt: skip
    error, level, calibrated_on, read_on, target, weight, taken_at = (
        np.concatenate(column) for column in zip(*rows, strict=True)
    )
    return PairErrors(error, level, calibrated_on, read_on, target, weight, taken_at, pairs.batches)


def mean_squares(pairs: PairErrors, scoring: Scoring, numbers: tuple[int, ...]) -> FloatArray:
    """Weighted sum of the unbiased squares for every number of trial batches, without enumerating them.

    NaN where a check has one other batch only, which shows nothing of the mean of several.
    """
    total = np.zeros(len(numbers))
    for check, here in _check_by_check(pairs):
        _, error, excess = _by_batch(here, float(scoring.truth_variance[check]))
        mean, variance, n_others = moments(error)
        squares = [float(square_of(mean, variance, n_others, m)) + excess.mean() / m for m in numbers]
        total += here.weight.sum() * (np.array(squares) - scoring.truth_variance[check])
    return total


def _check_by_check(pairs: PairErrors) -> Iterator[tuple[int, PairErrors]]:
    """The pairs of every check, in their order."""
    order = np.argsort(pairs.check, kind="stable")
    checks, first = np.unique(pairs.check[order], return_index=True)
    for check, at in zip(checks.tolist(), np.split(order, first[1:]), strict=True):
        yield check, pairs.take(at)


def _by_batch(here: PairErrors, truth_variance: float) -> tuple[IntArray, FloatArray, FloatArray]:
    """Each trial batch, the error of its curve at one check, and its specimens' variance less that of the records'.

    The views of a batch whose cells are parted in several ways are averaged.
    """
    batch, at, n_views = np.unique(here.calibrated_on, return_inverse=True, return_counts=True)
    error = np.bincount(at, weights=here.error) / n_views
    excess = np.bincount(at, weights=here.level - here.error**2 + truth_variance) / n_views
    return batch, error, excess


def _subsets(n: int, size: int) -> IntArray:
    """Every subset of so many of n, or an even choice of them, ``(n_subsets, size)``."""
    total = comb(n, size)
    if total <= MOST_SUBSETS:
        return np.array(list(combinations(range(n), size)))
    starts = np.linspace(0, n, MOST_SUBSETS, endpoint=False)
    steps = np.arange(MOST_SUBSETS) // n + 1
    return np.array([(int(start) + step * np.arange(size)) % n for start, step in zip(starts, steps, strict=True)])
