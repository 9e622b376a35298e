"""The limit on money: what keeps it, and the least limit that a sum of prices asks for."""

from __future__ import annotations

import math

import numpy as np

from planner.terms.arrays import BoolArray, FloatArray

ROUNDING = 1e-9  # relative: a sum of prices with cents is not exact, and must keep a limit of that very sum


def is_within_money(cost: FloatArray, most: float | None) -> BoolArray:
    """Whether sums keep the limit, shape of `cost`; None: there is none."""
    return np.asarray(cost <= (np.inf if most is None else most * (1.0 + ROUNDING)))


def keeps_money(cost: float | None, most: float | None) -> bool:
    """The same of one sum; without prices it is kept."""
    return cost is None or bool(is_within_money(np.array(cost), most))


def least_limit(cost: float) -> float:
    """The smallest limit in whole cents that a sum keeps."""
    return math.ceil(cost * 100.0 * (1.0 - ROUNDING)) / 100.0
