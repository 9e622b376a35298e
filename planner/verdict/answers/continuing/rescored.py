"""The schedules that begin as the trial batch was broken, scored again as the earlier batches are like it.

The curve, weighting and constants stay those of the recommendation. Later breaks are moved only for a gain that the
first breaks themselves bring: what another schedule of no more specimens gains beyond what one would have gained before
any break, more than the immaterial difference, and more than its own standard error. Specimens are added only where
the first breaks show, beyond chance, that the plan reads this batch worse than was stated before them, and then as few
as bring the stated error back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.after_casting.continuing import Action
from planner.terms.schedule import Schedule

BEYOND_CHANCE = 1.645  # normal deviate that chance passes once in 20


@dataclass(frozen=True, slots=True)
class Decision:
    """What is done after the first breaks."""

    action: Action
    row: int  # of the schedule taken


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Rescored:
    """Losses of the schedules that begin alike, in every earlier batch."""

    choices: ChoiceSet
    loss: FloatArray  # (n_choices, n_batches)
    level: FloatArray  # unbiased squared errors
    variance: FloatArray  # of the specimens alone
    planned: int  # row of the recommended schedule
    immaterial: float  # difference of RMS errors that is not worth a change

    @property
    def n_specimens(self) -> IntArray:
        return self.choices.n_specimens

    def schedule(self, row: int) -> Schedule:
        return self.choices.schedule(row)

    def rms(self, row: int, weights: FloatArray) -> float:
        """Error of a schedule with earlier batches weighted, never below what its specimens alone give."""
        return float(np.sqrt(max(self.level[row] @ weights, self.variance[row] @ weights)))

    def only(self, batches: IntArray) -> Rescored:
        """The same seen by some of the batches."""
        return Rescored(
            choices=self.choices,
            loss=self.loss[:, batches],
            level=self.level[:, batches],
            variance=self.variance[:, batches],
            planned=self.planned,
            immaterial=self.immaterial,
        )

    def decide(self, weights: FloatArray) -> Decision:
        """Go on, move later breaks at no more specimens, or add the fewest specimens that are worth it."""
        alike = np.full(len(weights), 1.0 / len(weights))
        now, before = self._gain(weights), self._gain(alike)
        counts = self.n_specimens
        within = np.flatnonzero(counts <= counts[self.planned])
        moved = int(within[np.argmax(now[within])])
        is_worth = now[moved] > self.immaterial + max(float(before[within].max()), 0.0)
        if is_worth and self._is_sure(moved, weights):
            return Decision("move", moved)
        stated = self.rms(self.planned, alike) + self.immaterial
        if self.rms(self.planned, weights) <= stated or not self._is_worse(weights):
            return Decision("go on", self.planned)
        for number in np.unique(counts[counts > counts[self.planned]]).tolist():
            rows = np.flatnonzero(counts == number)
            more = int(rows[np.argmax(now[rows])])
            if self.rms(more, weights) <= stated and self._is_sure(more, weights):
                return Decision("add", more)
        return Decision("go on", self.planned)

    def _gain(self, weights: FloatArray) -> FloatArray:
        """Root mean loss of the plan less that of every schedule."""
        mean = np.sqrt(np.maximum(self.loss @ weights, 0.0))
        return np.asarray(mean[self.planned] - mean)

    def _is_worse(self, weights: FloatArray) -> bool:
        """Whether the weights find batches that the plan reads worse, beyond what chance weights would find."""
        apart, level = weights - 1.0 / len(weights), self.level[self.planned]
        return bool(apart @ level > BEYOND_CHANCE * np.std(level) * np.sqrt(apart @ apart))

    def _is_sure(self, row: int, weights: FloatArray) -> bool:
        """Whether a schedule beats the plan by more than the standard error of the difference."""
        difference = self.loss[self.planned] - self.loss[row]
        mean = float(difference @ weights)
        error = np.sqrt(float(weights @ (difference - mean) ** 2) * float(weights @ weights))
        return bool(mean > error)
