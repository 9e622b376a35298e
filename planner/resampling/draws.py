"""Draws of within-test scatter, seeded by position and never by the order of execution.

Residuals of companions, scaled by sqrt(n / (n - 1)), are drawn for every batch, age and specimen: the
same draws serve every schedule, so that schedules are compared under common noise. Redrawing the two
or three specimens of a cell themselves would be wrong twice: the variance is short by (n - 1)/n, and
the noise of the cell mean is counted again.
"""

from __future__ import annotations

import zlib

import numpy as np

from planner.evidence import Cells
from planner.terms.arrays import FloatArray, IntArray


class Draws:
    """Relative departures of single specimens, drawn once and kept."""

    def __init__(self, cells: Cells, *, n_draws: int, seed: int, most_specimens: int) -> None:
        self._cells = cells
        self.n_draws = n_draws
        self._seed = seed
        self._most = most_specimens
        self._kept: dict[tuple[int, int], FloatArray] = {}

    def mean_departures(self, view: int, members: IntArray, specimens: IntArray) -> FloatArray:
        """Relative departures of the cell means of a schedule, ``(n_draws, n_ages)``."""
        columns = [
            self._specimens(view, int(age))[:, : int(count)].mean(axis=1)
            for age, count in zip(members, specimens, strict=True)
        ]
        return np.ascontiguousarray(np.stack(columns, axis=1))

    def _specimens(self, view: int, age: int) -> FloatArray:
        """Departures of every specimen of one batch at one age, ``(n_draws, most_specimens)``."""
        if (view, age) not in self._kept:
            cells = self._cells
            age_h = float(cells.ages_h[age])
            # Keyed by the batch's name and the age itself, so that the order of rows changes nothing.
            key = (self._seed, zlib.crc32(cells.view_batch[view].encode()), round(60 * age_h))
            generator = np.random.default_rng(key)
            pool = cells.scatter.standard_residuals(age_h)
            shape = (self.n_draws, self._most)
            drawn = generator.choice(pool, shape) if pool.size else generator.standard_normal(shape)
            self._kept[view, age] = drawn * cells.cv[age]
        return self._kept[view, age]
