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

from planner.compiled import njit
from planner.resampling.search.dominance import undominated
from planner.resampling.search.pieces import EDGE
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray

MOST_LOWEST = 20_000  # rows of lowest mean loss that always stay, and as many of the bootstrap's neighbourhood
_SLACK = 1.0 + 1e-11  # sums are added up in other orders


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """What rows that come later must reach to stay, from those held when some had to go.

    Lowest sums only fall as rows come, so what does not reach them now never will; schedules of one tier have equal
    numbers of specimens, so the row that holds such a sum is near the best wherever one above it is. The sums are
    those of rows without holes: what a hole is worth may still change.
    """

    dearest: int  # tier up to which all rows are held
    least: FloatArray  # lowest sum of losses of each tier, on all units and without each, (1 or 1 + n_units, n_tiers)
    most_total: float  # sum of the last of the rows that are lowest of all


@dataclass(frozen=True, slots=True, eq=False)
class RowLimit:
    """Bounds the rows of one search."""

    tier: AnyArray  # cheapness of each schedule, lower is cheaper, equal allowed, (n_choices,)
    most_rows: int
    most_lowest: int = MOST_LOWEST

    def kept(self, row_choice: IntArray, loss: FloatArray, is_low: BoolArray) -> tuple[BoolArray, Bar | None]:
        """Which rows stay, and what later ones must reach; None where nothing had to go.

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
        is_whole = ~np.isnan(loss).any(axis=1)
        is_low = is_low & is_whole
        loss = _filled(loss)
        total, n_units = loss.sum(axis=1), loss.shape[1]
        least = np.full((1 + n_units if n_units > 1 else 1, int(self.tier.max()) + 1), np.inf)
        for unit, of_tier in enumerate(least, start=-1):
            _keep_lowest(total if unit < 0 else total - loss[:, unit], tier, is_whole, of_tier, is_kept)
        is_kept[lowest(total, self.most_lowest)] = True
        low = np.flatnonzero(is_low)
        low = low[np.argsort(tier[low], kind="stable")]  # of equals the cheapest stays
        is_kept[low[undominated(loss[low], most_kept=self.most_lowest)]] = True
        of_whole = total[is_whole]
        is_full = len(of_whole) >= self.most_lowest
        most_total = float(np.partition(of_whole, self.most_lowest - 1)[self.most_lowest - 1]) if is_full else np.inf
        return is_kept, Bar(dearest, least, most_total)

    def reaches(self, bar: Bar, row_choice: IntArray, loss: FloatArray, is_low: BoolArray) -> BoolArray:
        """Which of some further rows may still stay, parameters as of :meth:`kept`; all others would go."""
        is_kept = np.empty(len(row_choice), dtype=bool)
        _reaching(loss, self.tier[row_choice], is_low, bar.dearest, bar.least, bar.most_total, is_kept)
        return is_kept


def lowest(values: FloatArray, n_lowest: int) -> IntArray:
    """Positions of the lowest of some values, ``(n,)``, in no order; of equals the first."""
    if n_lowest >= len(values):
        return np.arange(len(values))
    most = np.partition(values, n_lowest - 1)[n_lowest - 1]
    below = np.flatnonzero(values < most)
    return np.concatenate([below, np.flatnonzero(values == most)[: n_lowest - len(below)]])


@njit(cache=True, nogil=True)
def _keep_lowest(left, tier, is_whole, least_whole, is_kept):  # type: ignore[no-untyped-def]
    """Turn on, in place, the rows that are lowest in their tier; `least_whole` falls to those that have no hole."""
    least = np.full(len(least_whole), np.inf)
    for row in range(len(left)):
        least[tier[row]] = min(least[tier[row]], left[row])
        if is_whole[row]:
            least_whole[tier[row]] = min(least_whole[tier[row]], left[row])
    for row in range(len(left)):
        if left[row] <= least[tier[row]] * EDGE:
            is_kept[row] = True


@njit(cache=True, nogil=True)
def _reaching(loss, tier, is_low, dearest, least, most_total, is_kept):  # type: ignore[no-untyped-def]
    """Fill in which rows are cheap, near, low enough, or have holes, whose losses others decide."""
    for row in range(len(tier)):
        total = loss[row].sum()
        is_kept[row] = is_low[row] or tier[row] <= dearest or np.isnan(total) or total <= most_total * _SLACK
        for line in range(len(least)):
            left = total if line == 0 else total - loss[row, line - 1]
            if is_kept[row]:
                break
            is_kept[row] = left <= least[line, tier[row]] * _SLACK


def _filled(loss: FloatArray) -> FloatArray:
    """Losses with every hole at the row's mean over the units it has, times what the unit is worth on the mean."""
    is_hole = np.isnan(loss)
    if not is_hole.any():
        return loss
    mean = np.where(is_hole, 0.0, loss).sum(axis=1) / np.maximum((~is_hole).sum(axis=1), 1)
    ratio = np.where(is_hole, 0.0, loss / np.where(mean > 0, mean, 1.0)[:, None]).sum(axis=0)
    worth = ratio / np.maximum((~is_hole).sum(axis=0), 1)
    return np.where(is_hole, mean[:, None] * worth, loss)
