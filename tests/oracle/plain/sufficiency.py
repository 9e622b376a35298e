"""How many specimens are enough: the rule under every limit on them, judged on what it had not seen."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

from .candidates import Candidates, Schedule
from .figures import assembled, level_of
from .later_pours import later_pour_figures, pairs_of
from .rule import folds, pick


@dataclass(frozen=True)
class Step:
    most: int
    schedule: Schedule
    rms: float
    share: float
    lower_95: float
    bias: float
    variance: float  # of the schedules' specimens, own batch
    by_trial_batches: list[float]


def steps_of(candidates: Candidates) -> list[Step]:
    """One step for every number of specimens that some schedule has."""
    found = []
    for most in sorted({schedule.n for schedule in candidates.schedules}):
        taken = pick(candidates, list(range(len(candidates.study.units))), most_specimens=most)
        used = [candidates.of(each.chosen) for each in folds(candidates, most_specimens=most)]
        later, pairs = later_pour_figures(candidates, used), pairs_of(candidates, used)
        assert pairs is not None
        _, variance = level_of(candidates, assembled(candidates, used))
        found.append(
            Step(
                most, candidates.of(taken.chosen)[0], later["rms"], later["within_tolerance"],
                later["within_tolerance_lower_95"], float(pairs.weight @ pairs.error), variance,
                later["rms_by_trial_batches"],
            )
        )  # fmt: skip
    return found


@dataclass(frozen=True)
class Projection:
    """Normal errors whose spread is such that the share inside at the step's own RMS is the one found there."""

    step: Step
    tolerance: float
    scale: float

    @classmethod
    def of(cls, step: Step, tolerance: float) -> Projection:
        at = [cls(step, tolerance, math.exp(log)) for log in (math.log(0.05), math.log(20.0))]
        if (at[0].share(step.rms) - step.share) * (at[1].share(step.rms) - step.share) > 0:
            return at[0] if step.share > 0.5 else at[1]
        log = optimize.brentq(
            lambda log: cls(step, tolerance, math.exp(log)).share(step.rms) - step.share, math.log(0.05), math.log(20.0)
        )
        return cls(step, tolerance, math.exp(log))

    def share(self, rms: float) -> float:
        size = self.scale * rms
        middle = min(abs(self.step.bias), size)
        spread = math.sqrt(max(size**2 - middle**2, 1e-18))
        return float(
            stats.norm.cdf((self.tolerance - middle) / spread) - stats.norm.cdf((-self.tolerance - middle) / spread)
        )


def answer(candidates: Candidates, assurance: float) -> dict[str, object]:
    """The smallest number that is enough; where none is, the best, and what would be."""
    steps = steps_of(candidates)
    reached = next((step for step in steps if step.share >= assurance), None)
    best = reached or max(steps, key=lambda step: (round(step.share, 9), -step.most))
    projected = Projection.of(best, candidates.limits.tolerance)
    rest = max(best.rms**2 - best.variance, 0.0)
    beyond = None
    if reached is None and projected.share(math.sqrt(rest)) >= assurance:
        counts = range(best.schedule.n + 1, 50 * best.schedule.n + 1)
        beyond = next(
            (n for n in counts if projected.share(math.sqrt(rest + best.variance * best.schedule.n / n)) >= assurance),
            None,
        )
    return {
        "is_reached": reached is not None,
        "n_specimens": best.schedule.n if reached else None,
        "schedule": best.schedule,
        "rms": best.rms,
        "within_tolerance": best.share,
        "within_tolerance_lower_95": best.lower_95,
        "n_specimens_beyond": beyond,
        "within_with_endless_specimens": max(projected.share(math.sqrt(rest)), best.share),
        "by_trial_batches": np.array([(rms, projected.share(rms)) for rms in best.by_trial_batches]),
        "steps": steps,
    }
