"""Draws of within-test scatter, seeded by position and never by the order of execution.

Residuals of replicates, scaled by sqrt(n / (n - 1)), are drawn for every batch, age and specimen: the
same draws serve every schedule, so that schedules are compared under common noise. Redrawing the two
or three specimens of a cell themselves would be wrong twice: the variance is short by (n - 1)/n, and
the noise of the cell mean is counted again.
"""

from __future__ import annotations

import zlib

import numpy as np

from planner.evidence import Cells
from planner.terms.arrays import FloatArray, IntArray

MOST_DRAWN = 100_000  # draws of all batches together: with many batches, few of each tell as much


class Draws:
    """Relative departures of single specimens, drawn once and kept.

    Parameters
    ----------
    cells
        Whose batches and ages are drawn for.
    n_draws
        Of each batch; fewer where the batches are many, see `MOST_DRAWN`.
    seed
        Another seed draws others.
    """

    def __init__(self, cells: Cells, *, n_draws: int, seed: int) -> None:
        self._cells = cells
        self.n_draws = max(1, min(n_draws, MOST_DRAWN // max(len(cells.views.batch), 1)))
        self._seed = seed
        self._batches = [zlib.crc32(name.encode()) for name in cells.views.batch]
        self._kept: dict[tuple[int, int], FloatArray] = {}
        self._means: dict[tuple[int, int], FloatArray] = {}

    def mean_departures(self, members: IntArray, specimens: IntArray) -> FloatArray:
        """Relative departures of the cell means of a schedule in every view, ``(n_views, n_draws, n_ages)``."""
        columns = [self._mean(age, n) for age, n in zip(members.tolist(), specimens.tolist(), strict=True)]
        return np.ascontiguousarray(np.stack(columns, axis=2))

    def _mean(self, age: int, n: int) -> FloatArray:
        """Mean of the first `n` specimens at one age, ``(n_views, n_draws)``."""
        if (age, n) not in self._means:
            self._means[age, n] = np.mean([self._specimen(age, specimen) for specimen in range(n)], axis=0)
        return self._means[age, n]

    def _specimen(self, age: int, specimen: int) -> FloatArray:
        """Departures of one specimen of every view at one age, ``(n_views, n_draws)``; drawn when first wanted."""
        if (age, specimen) not in self._kept:
            age_h = float(self._cells.ages_h[age])
            pool = self._cells.scatter.standard_residuals(age_h)
            drawn = np.empty((len(self._batches), self.n_draws))
            for view, batch in enumerate(self._batches):
                # Keyed by names and ages, so that neither the order of rows nor other schedules change anything.
                generator = np.random.default_rng((self._seed, batch, round(60 * age_h), specimen))
                drawn[view] = generator.choice(pool, self.n_draws) if pool.size else generator.normal(size=self.n_draws)
            self._kept[age, specimen] = drawn * self._cells.cv[age]
        return self._kept[age, specimen]
