"""Bounds from the order of the errors alone, whatever law they follow.

Percent errors of different mixes have heavy tails: no bound on their root mean square held in more than 81 % of trials
on published mixes. A quantile can be bounded all the same: of n errors the number below the quantile of a share is
binomial, so some order statistic lies above that quantile with any wanted confidence, if n is large enough.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from planner.verdict.statistics.tolerance_bounds import check_inside, checked_errors

WORST_SHARE = 0.2  # of the mixes, rounded up
HEAVY_SHARE = 0.8  # of the sum of squares that the worst fifth makes where tails are heavy; normal errors: .65


def order_bound(values: ArrayLike, *, share: float, confidence: float) -> float | None:
    """Smallest order statistic that so large a share of new values stays below, with this confidence.

    None where even the largest value is not enough: the fewest values are ``ln(1 - confidence) / ln(share)``, see
    :func:`planner.verdict.statistics.coverage_bounds.batches_needed`.

    Parameters
    ----------
    values
        One for each unit, ``(n_units,)``; absolute errors for a bound on both sides, signed ones for the upper side.

    References
    ----------
    Wilks 1941, Annals of Mathematical Statistics 12:91 (from memory; derived above).
    """
    from scipy.special import bdtr

    ordered = np.sort(checked_errors(values))
    check_inside(share=share, confidence=confidence)
    n = ordered.size
    is_enough = bdtr(np.arange(n, dtype=np.float64), n, share) >= confidence - 1e-12
    return float(ordered[np.argmax(is_enough)]) if is_enough.any() else None


def n_worst(n_units: int) -> int:
    """How many units make the worst fifth."""
    return math.ceil(WORST_SHARE * n_units - 1e-9)


def worst_fifth_share(errors: ArrayLike) -> float:
    """Part of the sum of squares that the worst fifth of the units makes; 0 where no unit errs.

    More than four fifths of it are called heavy tails. Of normal errors that is said in 5 to 8 % of records of 10 to
    17 units and less often of more, of Student's t with two degrees of freedom in half of those of 14 units, two
    thirds of those of 26 (20,000 draws each).
    """
    squares = np.sort(checked_errors(errors) ** 2)[::-1]
    total = float(squares.sum())
    return float(squares[: n_worst(squares.size)].sum()) / total if total > 0.0 else 0.0
