"""How many rows a search may hold, and which go when there are more.

Of very many schedules millions are near the best with as many specimens, and most of them are dear. Held whole are the
rows of the cheapest tiers, as many as the limit takes. Of dearer ones stay the row of lowest mean loss in each tier, on
all units and without each of them, the rows of lowest mean of all, and the bootstrap's neighbourhood. So the best of
every fold and every limit on specimens, and the rungs of the ladder, are exact whatever the limit; what ties with the
best, and what beats a programme at no higher price, are exact up to the dearest tier held whole. A row with holes is
scored through others: what goes is told by its mean over the units that it has.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.resampling.search.dominance import undominated
from planner.resampling.search.pieces import EDGE
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray

MOST_LOWEST = 20_000  # rows of lowest mean loss that always stay, and as many of the bootstrap's neighbourhood


@dataclass(frozen=True, slots=True, eq=False)
class RowLimit:
    """Bounds the rows of one search."""

    tier: AnyArray  # cheapness of each schedule, lower is cheaper, equal allowed, (n_choices,)
    most_rows: int
    most_lowest: int = MOST_LOWEST

    def kept(self, row_choice: IntArray, loss: FloatArray, is_low: BoolArray) -> tuple[BoolArray, int | None]:
        """Which rows stay, and the dearest tier of which all do; None where nothing had to go.

        Parameters
        ----------
        row_choice, loss, is_low
            Rows, ``(n_rows,)``, ``(n_rows, n_units)``, ``(n_rows,)``; NaN where a unit lacks an age.
        """
        tier = self.tier[row_choice]
        up_to = np.cumsum(np.bincount(tier))
        if not len(tier) or up_to[-1] <= self.most_rows:
            return np.ones(len(tier), dtype=bool), None
        dearest = int(np.searchsorted(up_to, self.most_rows, side="right")) - 1
        is_kept = np.asarray(tier <= dearest)
        is_low = is_low & ~np.isnan(loss).any(axis=1)
        loss = _filled(loss)
        total, n_units = loss.sum(axis=1), loss.shape[1]
        by_tier = np.argsort(tier, kind="stable")
        starts = np.flatnonzero(np.r_[True, np.diff(tier[by_tier]) != 0])
        for unit in range(-1, n_units if n_units > 1 else 0):
            left = total if unit < 0 else total - loss[:, unit]
            lowest = np.repeat(np.minimum.reduceat(left[by_tier], starts), np.diff(np.r_[starts, len(tier)]))
            is_kept[by_tier[left[by_tier] <= lowest * EDGE]] = True
        is_kept[np.argsort(total, kind="stable")[: self.most_lowest]] = True
        low = by_tier[is_low[by_tier]]  # of equals the cheapest stays
        low = low[undominated(loss[low])]
        is_kept[low[np.argsort(total[low], kind="stable")[: self.most_lowest]]] = True
        return is_kept, dearest


def _filled(loss: FloatArray) -> FloatArray:
    """Losses with every hole at the row's mean over the units it has, times what the unit is worth on the mean."""
    is_hole = np.isnan(loss)
    if not is_hole.any():
        return loss
    mean = np.where(is_hole, 0.0, loss).sum(axis=1) / np.maximum((~is_hole).sum(axis=1), 1)
    ratio = np.where(is_hole, 0.0, loss / np.where(mean > 0, mean, 1.0)[:, None]).sum(axis=0)
    worth = ratio / np.maximum((~is_hole).sum(axis=0), 1)
    return np.where(is_hole, mean[:, None] * worth, loss)
