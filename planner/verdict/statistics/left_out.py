"""Which units are left out in turn."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import IntArray

MOST_LEFT_OUT = 120  # units; of more, an even choice: the whole choosing is repeated without each of them


def left_out_in_turn(n_units: int, *, most: int | None = None) -> IntArray:
    """Every unit, or of more than `most` an even choice, rising; `MOST_LEFT_OUT` where that is None."""
    held = MOST_LEFT_OUT if most is None else most
    if n_units <= held:
        return np.arange(n_units)
    return np.linspace(0, n_units - 1, held).astype(np.int64)
