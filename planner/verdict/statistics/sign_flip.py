"""Is one choice better than a rival named beforehand? Paired differences with their signs turned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from planner.terms.arrays import FloatArray

MOST_EXACT = 20  # batches; 2^19 sums, the other half mirrors them
N_SAMPLED = 100_000  # sign patterns drawn beyond


@dataclass(frozen=True, slots=True, kw_only=True)
class SignFlip:
    """Outcome of a sign-flip comparison."""

    p: float  # share of sign patterns with a mean at least as far from zero as the one seen
    floor: float  # the smallest p that so many batches can give
    is_exact: bool  # every pattern was counted


def sign_flip(differences: ArrayLike, *, n_sampled: int = N_SAMPLED, seed: int = 0) -> SignFlip:
    """Two-sided p of the mean difference under turned signs.

    Valid where each difference is as likely to be of either sign when the two are equal, which holds for a
    rival named beforehand and nested differences; for a winner selected on the same batches it is too small.
    Approximate, because nested differences share their training batches.

    Parameters
    ----------
    differences
        Loss of the one minus loss of the other, one per batch, shape ``(n_batches,)``.
    n_sampled
        Patterns drawn beyond 20 batches; the pattern seen is counted in, so that p is never 0.
    seed
        Of those draws.

    Raises
    ------
    ValueError
        Without differences, with values that are not finite, or with ``n_sampled`` below 1.
    """
    paired = np.asarray(differences, dtype=np.float64)
    if paired.ndim != 1 or paired.size == 0:
        raise ValueError(f"Differences must be one row with a value per batch, given shape {paired.shape}.")
    if not np.all(np.isfinite(paired)):
        raise ValueError("Differences must be finite. Leave out batches that either choice cannot predict.")
    if n_sampled < 1:
        raise ValueError(f"At least one pattern must be drawn, given {n_sampled}.")
    # patterns of equal sum may differ in the last digits by their order of addition
    edge = abs(float(np.sum(paired))) - 1e-12 * float(np.sum(np.abs(paired)))
    if paired.size <= MOST_EXACT:
        share = float(np.mean(np.abs(_all_sums(paired)) >= edge))
        return SignFlip(p=share, floor=2.0 ** (1 - paired.size), is_exact=True)
    n_far = _count_far(paired, edge, n_sampled, seed)
    floor = max(2.0 ** (1 - paired.size), 1.0 / (n_sampled + 1))
    return SignFlip(p=(n_far + 1) / (n_sampled + 1), floor=floor, is_exact=False)


def _all_sums(paired: FloatArray) -> FloatArray:
    """Sums under every pattern that leaves the first sign alone; turning all signs changes no distance."""
    sums = paired[:1].copy()
    for difference in paired[1:]:
        sums = np.concatenate((sums + difference, sums - difference))
    return sums


def _count_far(paired: FloatArray, edge: float, n_sampled: int, seed: int) -> int:
    """How many random patterns reach the edge, in blocks that bound the memory."""
    generator = np.random.default_rng(seed)
    n_far = 0
    for start in range(0, n_sampled, 10_000):
        n_rows = min(10_000, n_sampled - start)
        signs = generator.integers(0, 2, size=(n_rows, paired.size), dtype=np.int8)
        n_far += int(np.count_nonzero(np.abs((2.0 * signs - 1.0) @ paired) >= edge))
    return n_far
