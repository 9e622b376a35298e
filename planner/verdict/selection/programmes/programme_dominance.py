"""Programmes that another beats or equals in everything that counts, and beats in something.

What counts is the judged error, its worst batch, the share over-predicted beyond the tolerance, and what is spent:
money, specimens, attendances and the wait for the last break.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.resampling.errors.later_pours.judged_programmes import Programmes
from planner.terms.arrays import AnyArray, BoolArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Keyed:
    """Programmes with all that counts of each, lower is better; not those that cannot be judged or are not allowed."""

    which: IntArray  # position of its schedule, (n_programmes,)
    column: IntArray  # position of its number of trial batches, (n_programmes,)
    keys: tuple[AnyArray, ...]  # each (n_programmes,)

    def beating(self, keys: Sequence[float]) -> BoolArray:
        """Programmes that beat or equal one with these keys on every one and beat it on one, ``(n_programmes,)``."""
        is_no_worse, is_better = (np.full(len(self.which), value) for value in (True, False))
        for own, other in zip(self.keys, keys, strict=True):
            is_no_worse &= own <= other
            is_better |= own < other
        return np.asarray(is_no_worse & is_better)

    def keys_of(self, at: int) -> tuple[float, ...]:
        """Of one of these programmes."""
        return tuple(float(key[at]) for key in self.keys)

    def first_unbeaten(self, keys: Sequence[float], rank: AnyArray) -> int | None:
        """Of those that beat one with these keys and that none beats in turn the first by rank; None without any.

        Whatever beats one of them beats what they beat, so that only they have to be looked at.

        Parameters
        ----------
        rank
            Lowest first, ``(n_programmes,)``; of equals the first counts.
        """
        at = np.flatnonzero(self.beating(keys))
        some = Keyed(self.which[at], self.column[at], tuple(key[at] for key in self.keys))
        for i in np.argsort(rank[at], kind="stable"):
            if not some.beating(some.keys_of(int(i))).any():
                return int(at[i])
        return None


def keyed(judged: Programmes, columns: Sequence[int], is_allowed: BoolArray, spent: Sequence[AnyArray]) -> Keyed:
    """Put keys to the programmes that are allowed and can be judged.

    Parameters
    ----------
    columns
        Columns of `judged` that are asked for.
    is_allowed
        ``(n_rows, n_columns)``.
    spent
        Money, specimens, attendances and last age of whole programmes, each ``(n_rows, n_columns)``.
    """
    figures = [array[:, list(columns)] for array in (judged.rms, judged.worst, judged.over_beyond)]
    which, column = np.nonzero(is_allowed & np.isfinite(figures[0]))
    return Keyed(which, column, tuple(np.asarray(key[which, column]) for key in (*figures, *spent)))
