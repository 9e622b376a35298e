"""Worlds of batches that might have been cast: how often each batch counts, and how likely that is."""

from __future__ import annotations

from itertools import combinations
from math import factorial

import numpy as np

from planner.terms.arrays import FloatArray, IntArray

MOST_EXACT = 10  # batches; 92,377 worlds
N_SAMPLED = 4_000  # worlds drawn beyond


def bootstrap_weights(n_batches: int, *, n_sampled: int = N_SAMPLED, seed: int = 0) -> tuple[IntArray, FloatArray]:
    """Count vectors of a bootstrap over batches that leave at least one batch out, with their probabilities.

    Enumerated up to 10 batches: ``P(w) = B! / (prod w_b!) B^-B``, divided by the chance of leaving one out.
    Beyond, ``n_sampled`` of them are drawn, each with equal probability. Returned are counts, shape
    ``(n_worlds, n_batches)``, and probabilities summing to 1, shape ``(n_worlds,)``.
    """
    if n_batches < 2:
        raise ValueError(f"A bootstrap that leaves batches out needs 2 or more, given {n_batches}.")
    if n_sampled < 1:
        raise ValueError(f"At least one world must be drawn, given {n_sampled}.")
    if n_batches > MOST_EXACT:
        return _sampled_counts(n_batches, n_sampled, seed), np.full(n_sampled, 1.0 / n_sampled)
    counts = _compositions(n_batches, n_batches)
    counts = counts[(counts == 0).any(axis=1)]
    factorials = np.array([factorial(count) for count in range(n_batches + 1)], dtype=np.float64)
    chance = factorials[n_batches] / np.prod(factorials[counts], axis=1) / float(n_batches) ** n_batches
    return counts, chance / np.sum(chance)


def leave_one_out_counts(n_batches: int) -> IntArray:
    """One fold per row: 1 everywhere but 0 at its own batch, shape ``(n_batches, n_batches)``."""
    return np.ones((n_batches, n_batches), dtype=np.int64) - np.eye(n_batches, dtype=np.int64)


def _compositions(total: int, n_parts: int) -> IntArray:
    """All ordered sums of ``n_parts`` whole numbers from 0 that make ``total``, shape ``(n, n_parts)``."""
    # stars and bars: where the bars stand among the stars
    bars = np.array(list(combinations(range(total + n_parts - 1), n_parts - 1)), dtype=np.int64)
    bars = bars.reshape(len(bars) or 1, n_parts - 1)
    edges = np.hstack((np.full((len(bars), 1), -1), bars, np.full((len(bars), 1), total + n_parts - 1)))
    return np.asarray(np.diff(edges, axis=1) - 1)


def _sampled_counts(n_batches: int, n_sampled: int, seed: int) -> IntArray:
    """Random count vectors; the rare ones that leave no batch out are drawn again."""
    generator = np.random.default_rng(seed)
    chances = np.full(n_batches, 1.0 / n_batches)
    counts = generator.multinomial(n_batches, chances, size=n_sampled).astype(np.int64)
    while (is_full := (counts > 0).all(axis=1)).any():
        counts[is_full] = generator.multinomial(n_batches, chances, size=int(is_full.sum()))
    return counts
