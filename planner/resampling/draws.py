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

    def __init__(self, cells: Cells, *, n_draws: int, seed: int) -> None:
        self._cells = cells
        self.n_draws = n_draws
        self._seed = seed
        self._kept: dict[tuple[int, int], list[FloatArray]] = {}
        self._pools: dict[int, FloatArray] = {}

    def mean_departures(self, view: int, members: IntArray, specimens: IntArray) -> FloatArray:
        """Relative departures of the cell means of a schedule, ``(n_draws, n_ages)``."""
        columns = [
            np.mean(self._specimens(view, int(age), int(count)), axis=0)
            for age, count in zip(members, specimens, strict=True)
        ]
        return np.ascontiguousarray(np.stack(columns, axis=1))

    def _specimens(self, view: int, age: int, n: int) -> list[FloatArray]:
        """Departures of the first specimens of one batch at one age, each ``(n_draws,)``; drawn when first wanted."""
        cells = self._cells
        kept = self._kept.setdefault((view, age), [])
        if len(kept) < n:
            age_h = float(cells.ages_h[age])
            pool = self._pools.setdefault(age, cells.scatter.standard_residuals(age_h))
            for specimen in range(len(kept), n):
                # Keyed by names and ages, so that neither the order of rows nor other schedules change anything.
                key = (self._seed, zlib.crc32(cells.view_batch[view].encode()), round(60 * age_h), specimen)
                generator = np.random.default_rng(key)
                drawn = generator.choice(pool, self.n_draws) if pool.size else generator.standard_normal(self.n_draws)
                kept.append(drawn * cells.cv[age])
        return kept[:n]
