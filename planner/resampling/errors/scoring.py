"""From errors at checks to losses and levels of each held-out unit.

The ranking is ``C = e^2 + 2 v``: the squared error of the fit to the full cell means, plus twice the
variance that the schedule's own specimens would add. It is the expectation of the linearised
resampled loss, free of draws, so that the ranking cannot depend on a seed; the factor 2 was the best
of those tried in simulation, because it also pays for the noise that ``e`` itself carries.

From ten measured units on an error counts as twice the tolerance at the most: a few mixes of next to no strength, or
far from all others, would otherwise decide alone. The cap acts on the error before the variance is added, so the loss
stays linear in the variance and the search exact. ``python -m tests.statistics.loss_cap`` shows where it helps; levels,
and with them every figure that is told, know no cap.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.evidence import Cells
from planner.resampling.errors import arithmetic
from planner.resampling.errors.arithmetic import CAP_IN_TOLERANCES, FEWEST_TO_CAP, VARIANCE_FACTOR
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import Target


@dataclass(frozen=True, slots=True, eq=False)
class Scoring:
    """How the checks of a unit add up."""

    weight: FloatArray  # of each check inside its unit and target, (n_checks,)
    unit: IntArray  # (n_checks,)
    target: IntArray  # (n_checks,)
    truth_variance: FloatArray  # CV^2 / m of the specimens that tell the truth, (n_checks,)
    n_units: int
    target_weights: tuple[float, ...]
    is_worst: bool  # combine by the worst target instead of the mean
    over_weight: float
    tolerance: float
    # Evidence on curve and constants from beyond the schedule, added to the loss: (n_joints, n_units) or None
    penalty: FloatArray | None = None
    # How often the schedule's variance counts: 2 where e carries the noise of its own specimens, 1 where it has none
    variance_factor: float = VARIANCE_FACTOR
    is_by_mix: bool = False  # a unit is a whole mix: errors of mixes have heavy tails, no normal law bounds them
    most_error: float = np.inf  # what an error counts as in the loss at the most

    @classmethod
    def of(cls, cells: Cells, target: Target) -> Scoring:
        """Read the checks of `cells` as the plan's targets say."""
        is_capped = cells.n_units >= FEWEST_TO_CAP and cells.checked_against != "drawn"
        return cls(
            weight=cells.checks.weight,
            unit=cells.check_unit,
            target=cells.checks.target,
            truth_variance=cells.checks.cv**2 / cells.checks.n_specimens,
            n_units=cells.n_units,
            target_weights=target.target_weights,
            is_worst=target.combine == "worst",
            over_weight=target.over_prediction_weight,
            tolerance=target.tolerance,
            is_by_mix=cells.is_by_mix,
            most_error=CAP_IN_TOLERANCES * target.tolerance if is_capped else np.inf,
        )

    def least_penalty(self) -> FloatArray:
        """Least mean penalty of any joint without each unit in turn, and last without none, ``(n_units + 1,)``."""
        if self.penalty is None:
            return np.zeros(self.n_units + 1)
        total = self.penalty.sum(axis=1)
        without = (total[:, None] - self.penalty) / max(self.n_units - 1, 1)
        return np.asarray(np.r_[without.min(axis=0), total.min() / self.n_units])

    def least_penalty_of(self, units: IntArray) -> float:
        """Least mean penalty of any joint over these units."""
        return 0.0 if self.penalty is None else float(self.penalty[:, units].mean(axis=1).min())

    @property
    def check_weight(self) -> FloatArray:
        """Weight of each check inside its unit, targets by theirs, ``(n_checks,)``."""
        return np.array(self.target_weights)[self.target] * self.weight

    @property
    def is_linear(self) -> bool:
        """Whether the loss is linear in the variance of each check."""
        return self.over_weight == 1.0 and not self.is_worst

    def by_unit(self, values: FloatArray, *, target: int | None = None, is_worst: bool = False) -> FloatArray:
        """Average values at checks over conditions, splits, batches and targets.

        Parameters
        ----------
        values
            Shape ``(..., n_checks)``.
        target
            One target alone; all by their weights where None.
        is_worst
            Take the worst target instead of the weighted mean.

        Returns
        -------
        FloatArray
            Shape ``(..., n_units)``; NaN where a check of the unit could not be had.
        """
        shape = (*values.shape[:-1], self.n_units)
        wanted = range(len(self.target_weights)) if target is None else (target,)
        parts = []
        for t in wanted:
            part = np.zeros(shape)
            for k in np.flatnonzero(self.target == t):
                part[..., int(self.unit[k])] += self.weight[k] * values[..., k]
            parts.append(part)
        if is_worst:
            return np.asarray(np.max(parts, axis=0))
        if target is not None:
            return parts[0]
        return np.asarray(sum(weight * part for weight, part in zip(self.target_weights, parts, strict=True)))

    def level(
        self, error: FloatArray, schedule_variance: FloatArray, prior_variance: FloatArray, *, target: int | None = None
    ) -> FloatArray:
        """Unbiased squared error of each unit, see :func:`arithmetic.level`, ``(..., n_units)``."""
        values = arithmetic.level(error, schedule_variance, prior_variance, self.truth_variance)
        return self.by_unit(values, target=target)
