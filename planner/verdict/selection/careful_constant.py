"""Of maturity constants that tie, the one that reads lower at the worst end of the site's range.

A logger holds one constant. A high Q is slow in the cold and reads too much in the heat, a low one the other way round;
where the records do not tell two of them apart, the one is taken whose reading exceeds that of any other least, at the
end of the range where it exceeds it most.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.maturity.break_maturity import rate
from planner.terms.arrays import BoolArray, FloatArray
from planner.terms.maturity import MaturitySetting


def tied_constants(errors: Sequence[FloatArray], immaterial: float) -> BoolArray:
    """Constants within the immaterial difference of the least, in every error.

    Parameters
    ----------
    errors
        Each one error under every constant, ``(n_constants,)``; NaN where nothing can judge it.
    """
    found = np.ones(len(errors[0]), dtype=bool)
    for error in errors:
        if np.isfinite(error).any():
            found &= error <= np.nanmin(error) + immaterial
    return found


def excess(settings: Sequence[MaturitySetting], site_c: tuple[float, float]) -> FloatArray:
    """Maturity under each constant over the least under any of them, less 1, at either end, ``(n_constants, 2)``.

    Infinite where another constant gives the concrete no maturity at all.
    """
    ends = np.array(site_c, dtype=np.float64)
    gained = np.array([rate(ends, setting) for setting in settings])
    with np.errstate(divide="ignore", invalid="ignore"):
        over = gained / gained.min(axis=0) - 1.0
    return np.where(np.isnan(over), 0.0, over)  # nobody gives it any


def careful_of(settings: Sequence[MaturitySetting], site_c: tuple[float, float]) -> int:
    """Position of the constant that exceeds the others least at its worse end; of equals the first."""
    return int(np.argmin(excess(settings, site_c).max(axis=1)))
