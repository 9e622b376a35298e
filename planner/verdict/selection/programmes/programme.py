"""What a programme is, what may be spent on one, and what is wanted of it: values that the rule works with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.plan.batch_costs import cost_of_batches
from planner.terms.plan.money_limit import is_within_money
from planner.terms.plan.settings import BETWEEN_CASTINGS_H, JudgedOn

TOLD_TRIAL_BATCHES = (1, 2, 3)  # told beside, whatever the plan allows


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Limits:
    """What may be spent on a whole calibration, and what each schedule asks for."""

    trial_batches: tuple[int, ...]  # numbers that are searched
    most_specimens: int
    most_cost: float | None
    n_specimens: IntArray  # of one trial batch, (n_choices,)
    n_visits: IntArray  # (n_choices,)
    last_age_h: FloatArray  # (n_choices,)
    batch_cost: FloatArray | None  # of one trial batch at each casting asked for, (n_castings, n_choices)
    cost_once: float  # whatever the number of trial batches
    ready_by_h: float | None = None  # from the first casting to the last break of the last trial batch
    between_castings_h: float = BETWEEN_CASTINGS_H

    def cost(self, which: IntArray | int, n_trial_batches: int) -> FloatArray | None:
        """Of whole calibrations; None without prices."""
        if self.batch_cost is None:
            return None
        return cost_of_batches(self.batch_cost, which, n_trial_batches) + self.cost_once

    def allows(self, which: IntArray, n_trial_batches: int) -> BoolArray:
        """Whether so many trial batches of each schedule are within the limits."""
        is_allowed: BoolArray = np.asarray(self.n_specimens[which] * n_trial_batches <= self.most_specimens)
        cost = self.cost(which, n_trial_batches)
        if cost is not None:
            is_allowed &= is_within_money(cost, self.most_cost)
        if self.ready_by_h is not None:
            last_cast_h = self.between_castings_h * (n_trial_batches - 1)
            is_allowed &= self.last_age_h[which] + last_cast_h <= self.ready_by_h
        return is_allowed

    def spent(self, which: IntArray, numbers: Sequence[int]) -> tuple[AnyArray, ...]:
        """The same of every schedule with every number of trial batches, each ``(n_rows, n_numbers)``."""
        times = np.asarray(numbers)[None, :]
        rows = np.asarray(which)[:, None]
        shape = (len(which), len(numbers))
        return tuple(np.broadcast_to(key, shape) for key in self.price_keys(rows, times))

    def price_keys(self, which: IntArray, n_trial_batches: IntArray) -> tuple[FloatArray | IntArray, ...]:
        """What is spent, what counts most first: money where there are prices, specimens, visits, last age."""
        keys = (
            self.n_specimens[which] * n_trial_batches,
            self.n_visits[which] * n_trial_batches,
            self.last_age_h[which],
        )
        if self.batch_cost is None:
            return keys
        return (cost_of_batches(self.batch_cost, which, n_trial_batches) + self.cost_once, *keys)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the target asks of a programme."""

    judged_on: JudgedOn
    tolerance: float
    assurance: float
    immaterial: float


@dataclass(frozen=True, slots=True)
class Taken:
    """One programme."""

    which: int  # schedule
    joint: int
    n_trial_batches: int


@dataclass(frozen=True, slots=True)
class Chosen:
    """What the rule takes."""

    taken: Taken
    best: Taken  # lowest judged error of the ladder, within the limits
    is_enough: bool  # the share of batches inside reaches the assurance
    tied: tuple[Taken, ...]  # with the best, cheapest first; the taken one is among them unless it is enough
    alike: tuple[int, ...] = ()  # joints that differ from the taken in the constant alone and tie; (): not asked
