"""Truths converted from another geometry: how far off they may be counts with every reading held against them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.evidence.cells import Checks


def spread_by_conversion(checks: Checks) -> Checks:
    """Hold readings against a converted truth as it may be too low and too high, half the weight each.

    The mean square of the errors then holds the variance of the conversion beside that of the curve, and so do the
    shares inside the tolerance, the bounds and the safe reading. Truths that were measured as they are stay single. The
    sign of `conversion_cv` then tells the two rows of a truth apart.
    """
    if not np.any(checks.conversion_cv > 0.0):
        return checks
    n_times = np.where(checks.conversion_cv > 0.0, 2, 1)
    spread = checks.take(np.repeat(np.arange(len(checks)), n_times))
    first = np.cumsum(n_times) - n_times  # where the rows of each truth begin
    sign = np.ones(len(spread))
    sign[first] = -1.0
    return replace(
        spread,
        conversion_cv=sign * spread.conversion_cv,
        truth_mpa=spread.truth_mpa / (1.0 + sign * spread.conversion_cv),
        weight=spread.weight * np.where(spread.conversion_cv > 0.0, 0.5, 1.0),
    )
