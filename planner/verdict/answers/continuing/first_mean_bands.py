"""Bands of first means that have the same answer, and how many sound batches fall in each.

First means are tried over the whole range that a batch could have; means with the same answer make a band. A batch
like the earlier ones has its log mean about the mean curve with the spread of batches, departures and the scatter of
its specimens, Student's t with B - 1 degrees of freedom: so many sound batches fall in each band.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.results.after_casting.continuing import Action, IfThenBand
from planner.terms.schedule import Schedule
from planner.verdict.answers.continuing.first_breaks import EarlierBatches
from planner.verdict.answers.continuing.first_mean import FirstMean, typical_maturity_h
from planner.verdict.wording.continuing_words import band_words

N_TRIED = 401  # first means
REACH = 6.0  # standard deviations of a batch, up and down
LEAST_SHARE = 0.01  # of sound batches: what fewer first means say between two like answers is left out


@dataclass(frozen=True, slots=True)
class Tried:
    """The answer to one first mean."""

    action: Action
    schedule: Schedule | None = None


def bands_of(
    first: FirstMean, answer: Callable[[float], Tried], *, is_pour: bool
) -> tuple[tuple[IfThenBand, ...], float]:
    """Bands of first means with one answer, weakest first, and the mean that is expected."""
    from scipy.special import stdtr

    earlier, middle, sd = first.earlier, first.middle, first.sd
    logs = middle + sd * np.linspace(-REACH, REACH, N_TRIED)
    tried = [answer(float(np.exp(log))) for log in logs]
    shares = np.diff(stdtr(earlier.cells.n_batches - 1, np.linspace(-REACH, REACH, N_TRIED)), append=1.0)
    tried = without_slivers(tried, shares)
    edges = 0.5 * (logs[:-1] + logs[1:])
    carried = _carried_means(earlier, first.column)
    bands: list[IfThenBand] = []
    start = 0
    for action, group in groupby(tried, key=lambda one: one.action):
        members = list(group)
        stop = start + len(members)
        low = None if start == 0 else edges[start - 1]
        high = None if stop == len(tried) else edges[stop - 1]
        upper = 1.0 if high is None else float(stdtr(earlier.cells.n_batches - 1, (high - middle) / sd))
        lower = 0.0 if low is None else float(stdtr(earlier.cells.n_batches - 1, (low - middle) / sd))
        low_mpa, high_mpa = (None if edge is None else float(np.exp(edge)) for edge in (low, high))
        bands.append(
            IfThenBand(
                low_mpa=low_mpa,
                high_mpa=high_mpa,
                action=action,
                what=band_words(action, remaining=members[len(members) // 2].schedule, is_pour=is_pour),
                sound_share=upper - lower,
                batches=tuple(
                    name
                    for name, mean_mpa in carried
                    if (low_mpa is None or mean_mpa >= low_mpa) and (high_mpa is None or mean_mpa < high_mpa)
                ),
            )
        )
        start = stop
    return tuple(bands), float(np.exp(middle))


def without_slivers(tried: list[Tried], shares: FloatArray) -> list[Tried]:
    """Give means that hold next to no sound batches the answer on both sides of them, where that is one.

    Parameters
    ----------
    shares
        Of sound batches at each of the means, ``(n_tried,)``.
    """
    groups = [list(group) for _, group in groupby(range(len(tried)), key=lambda place: tried[place].action)]
    smoothed = list(tried)
    for before, group, after in zip(groups, groups[1:], groups[2:], strict=False):
        is_between_alike = tried[before[-1]].action == tried[after[0]].action
        if is_between_alike and float(shares[group].sum()) < LEAST_SHARE:
            for place in group:
                smoothed[place] = tried[before[-1]]
    return smoothed


def _carried_means(earlier: EarlierBatches, column: int) -> list[tuple[str, float]]:
    """Every earlier batch with its mean [MPa], carried to the typical maturity along the mean curve."""
    prior, cells = earlier.prior, earlier.cells
    at, _ = prior.at(typical_maturity_h(earlier, column))
    found = []
    for batch in np.flatnonzero(cells.is_held[:, column]):
        expected, _ = prior.at(cells.maturity_h[batch, [column]])
        found.append((earlier.names[batch], float(np.exp(cells.log_mean[batch, column] - expected[0] + at[0]))))
    return found
