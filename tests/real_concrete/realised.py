"""What every choice does on mixes that took no part in choosing it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np

from planner.fitting.batch_sweep import CURVE_CODES, FEWEST_AGES, sweep
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CURVE_NAMES, CurveName
from tests.real_concrete.data import MixSet
from tests.real_concrete.programme import Chosen, candidates_h

INTERPOLATING = ("piecewise linear", "piecewise linear in log age")


def all_choices(candidate_ages_h: Sequence[float]) -> Iterator[Chosen]:
    """Every set of two ages or more with every curve and weighting that it can be fitted with."""
    for n_ages in range(2, len(candidate_ages_h) + 1):
        for ages in combinations(candidate_ages_h, n_ages):
            for curve in CURVE_NAMES:
                if n_ages >= FEWEST_AGES[curve]:
                    for weighting in ("absolute",) if curve in INTERPOLATING else ("absolute", "relative"):
                        yield Chosen(ages, curve, weighting)


class Realised:
    """Errors of every choice on every mix at one target: predicted over measured minus 1."""

    def __init__(self, mixes: MixSet, target_h: float) -> None:
        self.mixes = mixes
        self.target_h = target_h
        self.choices = tuple(all_choices(candidates_h(mixes, target_h)))
        self._row = {choice: row for row, choice in enumerate(self.choices)}
        means = np.array([[record.mean_mpa(age) for age in mixes.ages_h] for record in mixes.records])
        at = mixes.ages_h.index(target_h)
        self.error = np.empty((len(self.choices), len(means)))  # signed, (n_choices, n_mixes)
        for joint in dict.fromkeys((choice.curve, choice.weighting) for choice in self.choices):
            rows = [row for row, c in enumerate(self.choices) if (c.curve, c.weighting) == joint]
            schedules = [self.choices[row].ages_h for row in rows]
            for mix, mix_means in enumerate(means):
                self.error[rows, mix] = _errors(joint, schedules, mixes.ages_h, mix_means, at)

    def of(self, choice: Chosen, of_mixes: Sequence[int] | FloatArray) -> FloatArray:
        """Signed errors of one choice on some mixes, ``(n_mixes,)``."""
        return np.asarray(self.error[self._row[choice], np.asarray(of_mixes)])

    def rms(self, choice: Chosen, of_mixes: Sequence[int]) -> float:
        """Root mean square of the same."""
        return float(np.sqrt(np.mean(self.of(choice, of_mixes) ** 2)))

    def lowest(self, of_mixes: Sequence[int], *, latest_h: float = np.inf) -> Chosen:
        """The choice of least mean squared error on some mixes: one fit a mix, no correction of any kind."""
        squares = np.mean(self.error[:, np.asarray(of_mixes)] ** 2, axis=1)
        is_late = np.array([choice.ages_h[-1] > latest_h for choice in self.choices])
        return self.choices[int(np.argmin(np.where(is_late, np.inf, squares)))]


def _errors(
    joint: tuple[str, str],
    schedules: Sequence[tuple[float, ...]],
    ages_h: Sequence[float],
    means_mpa: FloatArray,
    at: int,
) -> FloatArray:
    """Signed errors of many schedules on one mix, ``(n_schedules,)``."""
    curve: CurveName = next(name for name in CURVE_NAMES if name == joint[0])
    ages, n, most = np.array(ages_h), len(schedules), max(len(schedule) for schedule in schedules)
    members = np.full((n, most), -1, dtype=np.int16)
    for row, schedule in enumerate(schedules):
        members[row, : len(schedule)] = [ages_h.index(age) for age in schedule]
    error, contribution = np.empty((n, 1)), np.empty((n, 1, most))
    status, n_looks = np.empty(n, dtype=np.int8), np.zeros(1, dtype=np.int64)
    sweep(
        CURVE_CODES[curve],
        FEWEST_AGES[curve],
        members,
        np.array([len(schedule) for schedule in schedules]),
        ages,
        means_mpa,
        np.zeros(len(ages)),
        joint[1] == "relative",
        ages[at : at + 1],
        means_mpa[at : at + 1],
        error,
        contribution,
        status,
        n_looks,
    )
    return error[:, 0]
