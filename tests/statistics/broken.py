"""Batches with known truth, broken and fitted as a laboratory would: what a choice is really worth.

A choice is judged on batches that no programme has seen. Each is broken at the ages of the schedule with as
many specimens as the schedule says, the chosen curve is fitted to those means at the batch's own maturities,
and read where the concrete's true strength is known. Only the fitting kernel is shared with the planner.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple, Protocol

import numpy as np

from planner.fitting.batch_sweep import CURVE_CODES, FEWEST_AGES, sweep
from planner.terms.arrays import AnyArray, FloatArray, IntArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CURVE_NAMES, CurveName, Weighting
from planner.terms.schedule import Schedule

INTERPOLATING: frozenset[CurveName] = frozenset({"piecewise linear", "piecewise linear in log age"})


class Fit(NamedTuple):
    """Everything of a joint choice but its schedule."""

    curve: CurveName
    weighting: Weighting
    maturity: MaturitySetting


class JointChoice(Protocol):
    """A rated choice, as the planner returns it."""

    @property
    def schedule(self) -> Schedule: ...
    @property
    def curve(self) -> CurveName: ...
    @property
    def weighting(self) -> Weighting: ...
    @property
    def maturity(self) -> MaturitySetting: ...


def fit_of(choice: JointChoice) -> Fit:
    """Curve, weighting and maturity setting of a rated choice."""
    return Fit(choice.curve, choice.weighting, choice.maturity)


def all_fits(settings: Sequence[MaturitySetting], curves: Sequence[CurveName] = CURVE_NAMES) -> list[Fit]:
    """Every curve, weighting and maturity setting; curves through every mean know no weighting."""
    weightings: tuple[Weighting, ...] = ("absolute", "relative")
    return [
        Fit(curve, weighting, setting)
        for curve in curves
        for weighting in (weightings[:1] if curve in INTERPOLATING else weightings)
        for setting in settings
    ]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Broken:
    """Batches as broken, with the truth they are held against."""

    ages_h: FloatArray  # rising [h], (n_ages,)
    counts: tuple[int, ...]  # specimens an age may have
    mean_mpa: FloatArray  # of so many specimens, (n_batches, n_ages, n_counts)
    settings: tuple[MaturitySetting, ...]
    maturity_h: FloatArray  # (n_settings, n_batches, n_ages)
    check_maturity_h: FloatArray  # where the curve is read, (n_settings, n_batches, n_checks)
    check_truth_mpa: FloatArray  # (n_batches, n_checks)

    @property
    def n_batches(self) -> int:
        return int(self.mean_mpa.shape[0])

    def errors(
        self, schedules: Sequence[Schedule], fit: Fit, *, shift: int = 0, first: int | None = None
    ) -> FloatArray:
        """Signed relative errors of one fit, ``(n_schedules, n_batches, n_checks)``; NaN where not fitted.

        Parameters
        ----------
        shift
            Read the curve of each batch on the batch so many places further on; 0 is its own concrete.
        first
            Only so many of the batches; all where None.
        """
        members, n_ages = self._members(schedules)
        setting = self.settings.index(fit.maturity)
        n_counts, n_checks = len(self.counts), self.check_truth_mpa.shape[1]
        n_batches = self.n_batches if first is None else first
        error = np.empty((n_batches, len(schedules), n_checks))
        scratch = np.empty((len(schedules), n_checks, members.shape[1]))
        status = np.empty(len(schedules), dtype=np.int8)
        looks = np.zeros(1, dtype=np.int64)
        scatter = np.zeros(len(self.ages_h) * n_counts)
        for batch in range(n_batches):
            read_on = (batch + shift) % self.n_batches
            sweep(
                CURVE_CODES[fit.curve], FEWEST_AGES[fit.curve], members, n_ages,
                np.repeat(self.maturity_h[setting, batch], n_counts), self.mean_mpa[batch].ravel(), scatter,
                fit.weighting == "relative", self.check_maturity_h[setting, read_on],
                self.check_truth_mpa[read_on], error[batch], scratch, status, looks,
            )  # fmt: skip
        return error.swapaxes(0, 1)

    def rms(self, schedules: Sequence[Schedule], fit: Fit, *, first: int | None = None) -> FloatArray:
        """True own-batch RMS error, batches and checks alike, ``(n_schedules,)``; infinite where not fitted."""
        squares = np.mean(self.errors(schedules, fit, first=first) ** 2, axis=(1, 2))
        return np.sqrt(np.where(np.isfinite(squares), squares, np.inf))

    def rms_of(self, choice: JointChoice) -> float:
        """True own-batch RMS error of one joint choice."""
        return float(self.rms([choice.schedule], fit_of(choice))[0])

    def next_errors(self, choice: JointChoice, *, n_shifts: int = 4) -> FloatArray:
        """Errors of each batch's curve on later pours, ``(n_batches * n_shifts, n_checks)``."""
        fit = fit_of(choice)
        parts = [self.errors([choice.schedule], fit, shift=1 + 7 * s)[0] for s in range(n_shifts)]
        return np.concatenate(parts)

    def _members(self, schedules: Sequence[Schedule]) -> tuple[AnyArray, IntArray]:
        """Schedules as columns of ages and counts, padded with -1."""
        most = max(schedule.n_ages for schedule in schedules)
        members = np.full((len(schedules), most), -1, dtype=np.int16)
        ages = {float(age): i for i, age in enumerate(self.ages_h)}
        for row, schedule in enumerate(schedules):
            members[row, : schedule.n_ages] = [
                ages[age] * len(self.counts) + self.counts.index(count)
                for age, count in zip(schedule.ages_h, schedule.specimens, strict=True)
            ]
        return members, np.array([schedule.n_ages for schedule in schedules], dtype=np.int64)


def true_rms_of_all(
    broken: Broken, schedules: Sequence[Schedule], fits: Sequence[Fit], *, n_workers: int = 2
) -> FloatArray:
    """True RMS error of every joint choice, ``(n_fits, n_schedules)``. Threads share nothing."""
    with ThreadPoolExecutor(n_workers) as pool:
        return np.array(list(pool.map(partial(broken.rms, list(schedules)), fits)))


def first_means(specimens_mpa: FloatArray, counts: Sequence[int]) -> FloatArray:
    """Means of the first few specimens of each cell: ``(..., n_specimens)`` to ``(..., n_counts)``."""
    return np.stack([specimens_mpa[..., :count].mean(axis=-1) for count in counts], axis=-1)
