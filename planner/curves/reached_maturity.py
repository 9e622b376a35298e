"""From which maturity on a curve reads a strength."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from planner.terms.arrays import FloatArray

N_SOUGHT = 4001  # maturities between which a strength is sought, evenly in their logarithm


def reached_maturity(
    strength_of: Callable[[FloatArray], FloatArray], span_h: tuple[float, float], strength_mpa: float
) -> float | None:
    """Least maturity [h] in the span from which on the curve reads this strength or more; None: not there.

    Parameters
    ----------
    strength_of
        Strengths [MPa] at maturities [h], of one shape.
    """
    from scipy.optimize import brentq

    sought = np.geomspace(*span_h, N_SOUGHT)
    strengths = strength_of(sought)
    is_short = strengths < strength_mpa
    if not is_short[0] or is_short[-1]:
        return float(sought[0]) if not is_short.any() and np.isclose(strengths[0], strength_mpa) else None
    last = int(np.flatnonzero(is_short)[-1])
    found = brentq(
        lambda m: float(strength_of(np.array([m]))[0]) - strength_mpa, sought[last], sought[last + 1], xtol=1e-10
    )
    return float(found)
