"""The schedules of lowest own-batch loss at every price, and which of their programmes tie with the best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.resampling.errors.arithmetic import TIE_FACTOR
from planner.resampling.errors.later_pours.judged_programmes import ByUnit, Programmes
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.verdict.selection.programmes.programme import Chosen, Limits, Taken, Wanted

FEWEST_TO_TIE = 5  # units: from four, one standard error is itself known to within two fifths only


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ladder:
    """Schedules of lowest own-batch loss at every price, cheapest first, with what they are judged at."""

    which: IntArray  # (n_rungs,)
    joint: IntArray  # (n_rungs,)
    loss: FloatArray  # mean own-batch loss, falling, (n_rungs,)
    judged: Programmes  # columns are `Limits.trial_batches`
    by_unit: ByUnit
    is_allowed: BoolArray  # (n_rungs, n_numbers)

    def taken(self, rung: int, column: int) -> Taken:
        return Taken(int(self.which[rung]), int(self.joint[rung]), self.judged.trial_batches[column])

    def tied_with_best(self, wanted: Wanted, limits: Limits) -> Chosen | None:
        """The cheapest of those that tie with the best; None where nothing is allowed."""
        if not self.is_allowed.any():
            return None
        rms = np.where(self.is_allowed, self.judged.rms, np.inf)
        best = (int(rms.argmin() // rms.shape[1]), int(rms.argmin() % rms.shape[1]))
        tied = np.nonzero(tied_with(self, best, wanted))
        order = self._by_price(limits, *tied)
        found = tuple(self.taken(int(tied[0][at]), int(tied[1][at])) for at in order)
        return Chosen(found[0], self.taken(*best), False, found)

    def cheapest(self, limits: Limits, rungs: IntArray, columns: IntArray) -> Taken:
        """The cheapest of some programmes of the ladder; among equals the lowest own-batch loss."""
        first = int(self._by_price(limits, rungs, columns)[0])
        return self.taken(int(rungs[first]), int(columns[first]))

    def _by_price(self, limits: Limits, rungs: IntArray, columns: IntArray) -> IntArray:
        numbers = np.array(self.judged.trial_batches)[columns]
        keys = limits.price_keys(self.which[rungs], numbers)
        return np.lexsort((self.loss[rungs], *keys[::-1]))


def rungs_of(loss: FloatArray, tier: IntArray) -> IntArray:
    """Rows whose loss no cheaper or equally cheap row reaches, cheapest first."""
    order = np.lexsort((loss, tier))
    falling = np.minimum.accumulate(loss[order])
    is_lower = np.r_[True, loss[order][1:] < falling[:-1]] if len(order) else np.empty(0, dtype=bool)
    return np.asarray(order[is_lower])


def near_as_many(loss: FloatArray, n_specimens: IntArray, least: float) -> BoolArray:
    """Whether a loss is within the tie factor of the lowest with as many specimens or fewer.

    Money saved on attendances alone makes no rung out of a schedule that as many specimens elsewhere beat by far.

    Parameters
    ----------
    least
        Part of every loss that no schedule can be without; a loss filled in for units that lack an age may be lower.
    """
    lowest = np.full(int(n_specimens.max(initial=0)) + 1, np.inf)
    np.minimum.at(lowest, n_specimens, loss)
    lowest = np.minimum.accumulate(lowest)[n_specimens]
    return np.asarray((loss <= lowest) | (loss - least <= TIE_FACTOR * (lowest - least)))


def tied_with(ladder: Ladder, best: tuple[int, int], wanted: Wanted) -> BoolArray:
    """Which programmes of the ladder tie with the best, ``(n_rungs, n_numbers)``.

    One ties where its judged error is higher by no more than what is immaterial, or where the paired
    differences of the judged loss are within one standard error of nought, which fewer than five units cannot
    tell: four that disagree would make any cheaper programme tie. In both cases only where its
    mean square is at most 1.21 times the best's, and no batch is over-predicted beyond the tolerance, by more
    than what is immaterial, where the best is not.
    """
    rms = ladder.judged.rms.astype(np.float64)
    lowest = rms[best]
    steps = ladder.by_unit.loss - ladder.by_unit.loss[best]
    is_shared = np.isfinite(steps)
    n = is_shared.sum(axis=2)
    behind = np.where(is_shared, steps, 0.0).sum(axis=2) / np.maximum(n, 1)
    spread = (np.where(is_shared, steps - behind[:, :, None], 0.0) ** 2).sum(axis=2)
    error = np.sqrt(spread / np.maximum(n - 1, 1) / np.maximum(n, 1))
    is_untold = (behind <= error) & (n >= FEWEST_TO_TIE)
    highest = ladder.by_unit.highest
    is_worse_over = (highest > wanted.tolerance + wanted.immaterial) & ~(highest[best] > wanted.tolerance)
    is_tied = (
        ladder.is_allowed
        & ((rms <= lowest + wanted.immaterial) | is_untold)
        & (rms**2 <= TIE_FACTOR * lowest**2)
        & ~is_worse_over.any(axis=2)
    )
    is_tied[best] = True
    return np.asarray(is_tied)
