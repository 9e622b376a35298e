"""Errors that may not rise: noise between neighbours is pooled, never flattered."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray


def falling(squares: FloatArray) -> FloatArray:
    """Mean squares that never rise: neighbours that do are pooled, least squares under that order.

    The error of a rule that may do more is not larger; where leaving few batches out says otherwise it is
    noise. Pooling keeps the mean, a running minimum would flatter.

    References
    ----------
    Pool adjacent violators, Ayer and others 1955 (from memory).
    """
    blocks: list[list[float]] = []  # mean, count
    for value in squares.tolist():
        blocks.append([value, 1.0])
        while len(blocks) > 1 and blocks[-2][0] < blocks[-1][0]:
            mean, count = blocks.pop()
            total = blocks[-1][1] + count
            blocks[-1] = [(blocks[-1][0] * blocks[-1][1] + mean * count) / total, total]
    return np.array([mean for mean, count in blocks for _ in range(int(count))])
