"""What a programme is truly worth on a later pour, from fresh batches: trial batches, specimens, money.

All concrete of these laws cures at 20 C, so the curve of a trial batch reads the same strength on every later
pour, whatever the pour. With ``p`` that reading and ``S`` the pour's true strength, both independent, the mean
square error of the mean curve of m trial batches is ``E (mean p / S - 1)^2 + (var p / m) E 1/S^2``: two moments
of the readings and two of the pours tell it, without pairing anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.schedule import Schedule
from tests.statistics.broken import Broken, Fit, JointChoice, all_fits, fit_of
from tests.statistics.growth import AGES_H, BY_AGE, FEWEST_AGES, MOST_AGES, Law, fresh_broken

COUNTS = (2, 3)
WELL_READ = 0.05  # half the tolerance: a curve further off on its own concrete is hardly accepted
TRIAL_BATCHES = (1, 2, 3)
FRESH_SEED, SEARCH_SEED = 51, 53  # of the batches that judge, and of those searched in hindsight


@dataclass(frozen=True, slots=True, eq=False)
class Pours:
    """Two moments of the pours' true strengths at the target."""

    inverse: float  # mean 1/S
    inverse_square: float  # mean 1/S^2

    @classmethod
    def of(cls, broken: Broken) -> Pours:
        truth_mpa = broken.check_truth_mpa[:, 0]
        return cls(float(np.mean(1.0 / truth_mpa)), float(np.mean(truth_mpa**-2.0)))

    def rms(self, mean_mpa: FloatArray, variance: FloatArray, n_trial_batches: int) -> FloatArray:
        """True RMS error from the moments of the readings."""
        square = (
            mean_mpa**2 * self.inverse_square
            - 2.0 * mean_mpa * self.inverse
            + 1.0
            + variance / n_trial_batches * self.inverse_square
        )
        return np.asarray(np.sqrt(np.where(np.isfinite(square), square, np.inf)))


def readings(broken: Broken, schedules: Sequence[Schedule], fit: Fit) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of what the curves read at the target [MPa], each ``(n_schedules,)``; NaN where not fitted."""
    read_mpa = broken.check_truth_mpa[:, 0] * (1.0 + broken.errors(schedules, fit)[:, :, 0])
    return read_mpa.mean(axis=1), read_mpa.var(axis=1, ddof=1)


@cache
def judge_of(law: Law, n_fresh: int) -> tuple[Broken, Pours]:
    """Fresh batches that judge what was chosen."""
    broken = fresh_broken(law, n_fresh, FRESH_SEED, COUNTS)
    return broken, Pours.of(broken)


def later_rms(law: Law, choice: JointChoice, n_trial_batches: int, *, n_fresh: int) -> float:
    """True RMS error of one programme on later pours."""
    broken, pours = judge_of(law, n_fresh)
    mean_mpa, variance = readings(broken, [choice.schedule], fit_of(choice))
    return float(pours.rms(mean_mpa, variance, n_trial_batches)[0])


@dataclass(frozen=True, slots=True, eq=False)
class Hindsight:
    """Every programme with equal counts at its ages, with the curve that truly serves it best."""

    schedules: tuple[Schedule, ...]
    rms: FloatArray  # best over the fits, (n_trial_batches, n_schedules)
    own_rms: FloatArray  # true, on the trial batch's own concrete, same shape
    good: Hindsight | None = None  # each schedule with the best of the fits that read their own concrete well

    @property
    def good_curves(self) -> Hindsight:
        """The same where only curves that read their own concrete well are taken."""
        assert self.good is not None
        return self.good

    def best_within(self, is_allowed: FloatArray) -> float:
        """Lowest true error of the programmes allowed, ``(n_trial_batches, n_schedules)`` truths."""
        return float(np.where(is_allowed, self.rms, np.inf).min())


@cache
def hindsight_of(law: Law, n_searched: int, n_fresh: int) -> Hindsight:
    """Choose the fit of every schedule on some fresh batches and judge it on others, so that luck does not count."""
    schedules = tuple(
        Schedule(ages, (count,) * n_ages)
        for n_ages in range(FEWEST_AGES, MOST_AGES + 1)
        for ages in combinations(AGES_H, n_ages)
        for count in COUNTS
    )
    fits = all_fits(BY_AGE)
    searched = fresh_broken(law, n_searched, SEARCH_SEED, COUNTS)
    pours = Pours.of(searched)
    rms = np.array([
        [pours.rms(*moments, m) for m in TRIAL_BATCHES]
        for moments in (readings(searched, schedules, fit) for fit in fits)
    ])  # fmt: skip
    own = np.array([searched.rms(schedules, fit) for fit in fits])
    well = np.where(own[:, None, :] <= WELL_READ, rms, 10.0 + own[:, None, :])
    good = Hindsight(schedules, *_judged(law, schedules, fits, well, n_fresh))
    good.rms[good.own_rms > WELL_READ] = np.inf
    return Hindsight(schedules, *_judged(law, schedules, fits, rms, n_fresh), good)


def _judged(
    law: Law, schedules: tuple[Schedule, ...], fits: Sequence[Fit], rms: FloatArray, n_fresh: int
) -> tuple[FloatArray, FloatArray]:
    """True errors on the judging batches, later pour and own batch, each schedule with the fit that won the search."""
    broken, pours = judge_of(law, n_fresh)
    best = rms.argmin(axis=0)  # (n_trial_batches, n_schedules)
    found, own = np.empty(best.shape), np.empty(best.shape)
    for number, fit in enumerate(fits):
        for row, m in enumerate(TRIAL_BATCHES):
            mine = np.flatnonzero(best[row] == number)
            if mine.size:
                moments = readings(broken, [schedules[at] for at in mine], fit)
                found[row, mine] = pours.rms(*moments, m)
                own[row, mine] = broken.rms([schedules[at] for at in mine], fit)
    return found, own
