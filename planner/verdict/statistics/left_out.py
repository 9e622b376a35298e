"""Which units are left out in turn."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import IntArray

MOST_LEFT_OUT = 120  # units; of more, an even choice: the whole choosing is repeated without each of them


def left_out_in_turn(n_units: int) -> IntArray:
    """Every unit, or of very many an even choice, rising."""
    if n_units <= MOST_LEFT_OUT:
        return np.arange(n_units)
    return np.linspace(0, n_units - 1, MOST_LEFT_OUT).astype(np.int64)
