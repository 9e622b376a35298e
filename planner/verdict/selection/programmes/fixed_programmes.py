"""What is possible, what is enough and what is fewest: decided here alone, for every question.

A programme is judged as it stands, its schedule and curve fixed, on readings that had no part in fitting it. Its
figure does not depend on what else is offered, and a set of programmes is as good as the best in it. So a narrower
plan never makes possible what a wider one called impossible. What choosing among many costs is told beside, by
figures of the choosing rule, which decide nothing: they move either way when choices come and go.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.resampling.errors.later_pours.judged_programmes import Programmes
from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.plan.settings import JudgedOn
from planner.verdict.selection.programmes.programme import Limits


@dataclass(frozen=True, slots=True)
class FixedProgramme:
    """One programme with the figures that decide."""

    which: int  # schedule
    joint: int
    n_trial_batches: int
    n_specimens: int  # over all trial batches
    rms: float  # where it is judged, against true strength
    within_tolerance: float  # share of judged batches with every target inside


@dataclass(frozen=True, slots=True)
class Decision:
    """What a set of programmes can do."""

    judged_on: JudgedOn  # to be named in every sentence about `fewest`
    assurance: float
    lowest: FixedProgramme  # lowest judged error
    most_inside: FixedProgramme  # largest share inside; among equals the fewest specimens
    fewest: FixedProgramme | None  # fewest specimens that are enough, among equals the lowest error; None: none is


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FixedProgrammes:
    """Schedules with their curves, times numbers of trial batches."""

    judged_on: JudgedOn
    assurance: float
    trial_batches: tuple[int, ...]
    joint: IntArray  # of every schedule, (n_choices,)
    n_specimens: IntArray  # of one trial batch, (n_choices,)
    rms: AnyArray  # NaN where nothing can judge it, (n_choices, n_numbers)
    within_tolerance: AnyArray  # share of judged batches with every target inside, (n_choices, n_numbers)
    is_within_limits: BoolArray  # (n_choices, n_numbers)

    @classmethod
    def of(
        cls, limits: Limits, everything: Programmes, joint: IntArray, *, judged_on: JudgedOn, assurance: float
    ) -> FixedProgrammes:
        """Every schedule of the limits with its joint, for every number of trial batches that they allow."""
        numbers = limits.trial_batches
        columns = [everything.trial_batches.index(number) for number in numbers]
        every = np.arange(len(limits.n_specimens))
        return cls(
            judged_on=judged_on,
            assurance=assurance,
            trial_batches=numbers,
            joint=joint,
            n_specimens=limits.n_specimens,
            rms=everything.rms[:, columns],
            within_tolerance=everything.within_tolerance[:, columns],
            is_within_limits=np.stack([limits.allows(every, number) for number in numbers], axis=1),
        )

    @property
    def is_possible(self) -> BoolArray:
        """Programmes within the limits that can be judged, ``(n_choices, n_numbers)``."""
        return np.asarray(self.is_within_limits & np.isfinite(self.rms))

    @property
    def is_enough(self) -> BoolArray:
        """Programmes within the limits whose share inside reaches the assurance, ``(n_choices, n_numbers)``."""
        return np.asarray(self.is_within_limits & (self.within_tolerance >= self.assurance))

    def decide(self, allowed: BoolArray | None = None) -> Decision | None:
        """Decide for a part of the schedules; None where nothing in it can be judged.

        Parameters
        ----------
        allowed
            Schedules to decide about, ``(n_choices,)``; all where None.
        """
        offered = self.is_possible
        if allowed is not None:
            offered = offered & allowed[:, None]
        which, column = np.nonzero(offered)
        if not which.size:
            return None
        rms, share = self.rms[which, column], self.within_tolerance[which, column]
        counts = self.n_specimens[which] * np.array(self.trial_batches)[column]
        good = np.flatnonzero(share >= self.assurance)

        def first(at: IntArray, *keys: FloatArray | IntArray) -> FixedProgramme:
            place = int(at[np.lexsort([key[at] for key in reversed(keys)])[0]])
            return self._programme(int(which[place]), int(column[place]))

        every = np.arange(len(which))
        return Decision(
            judged_on=self.judged_on,
            assurance=self.assurance,
            lowest=first(every, rms, counts),
            most_inside=first(every, -share, counts, rms),
            fewest=first(good, counts, rms) if good.size else None,
        )

    def _programme(self, which: int, column: int) -> FixedProgramme:
        number = self.trial_batches[column]
        return FixedProgramme(
            which=which,
            joint=int(self.joint[which]),
            n_trial_batches=number,
            n_specimens=int(self.n_specimens[which]) * number,
            rms=float(self.rms[which, column]),
            within_tolerance=float(self.within_tolerance[which, column]),
        )
