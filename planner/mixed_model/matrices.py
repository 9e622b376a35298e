"""Inverses of small symmetric matrices."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray


def inverse(matrix: FloatArray) -> FloatArray:
    """Inverse of one matrix or of a stack of them, in doubles."""
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)
