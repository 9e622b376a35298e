"""How many specimens are enough: figures of fixed schedules on later pours, whatever else was offered."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

from tests.oracle.plain.candidates import Candidates, Schedule
from tests.oracle.plain.programmes import is_own_batch, judge_row, readings
from tests.oracle.plain.taken import best_rows, scores, take


@dataclass(frozen=True)
class Step:
    most: int
    schedule: Schedule
    rms: float
    share: float
    variance: float = 0.0  # of the schedule's specimens where it is judged
    bias: float = 0.0


def steps_of(candidates: Candidates) -> list[Step]:
    """The schedule of lowest loss under every limit on specimens, where it is another than under the last."""
    loss = scores(candidates)
    n = np.array([schedule.n for schedule in candidates.schedules])[candidates.schedule_of]
    found: list[Step] = []
    lowest = math.inf
    for most in sorted(set(n.tolist())):
        rows = np.flatnonzero(n == most)
        row = int(rows[np.argmin(loss[rows])])
        if loss[row] < lowest * (1 - 1e-12):
            lowest = loss[row]
            found.append(step_at(candidates, row, most))
    return found


def step_at(candidates: Candidates, row: int, most: int) -> Step:
    checks = readings(candidates, *candidates.of(row))
    judged = judge_row(candidates, row)
    units = len({check.unit for check in checks})
    variance = sum(check.weight / units * check.own.mean() for check in checks)
    return Step(most, candidates.of(row)[0], judged.rms, judged.share, float(variance))


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
    """The fewest specimens of a schedule that is enough; where none is, the recommended one, and what would be."""
    enough = [
        row for row in best_rows(candidates) if step_at(candidates, row, candidates.of(row)[0].n).share >= assurance
    ]
    if enough:
        row = min(enough, key=lambda row: (candidates.of(row)[0].n, scores(candidates)[row]))
    else:
        row = take(candidates).row
    best = step_at(candidates, row, candidates.of(row)[0].n)
    projected = Projection.of(best, candidates.limits.tolerance)
    rest = max(best.rms**2 - best.variance, 0.0)
    beyond = None
    if not enough and projected.share(math.sqrt(rest)) >= assurance:
        counts = range(best.schedule.n + 1, 50 * best.schedule.n + 1)
        beyond = next(
            (n for n in counts if projected.share(math.sqrt(rest + best.variance * best.schedule.n / n)) >= assurance),
            None,
        )
    checks = readings(candidates, *candidates.of(row))
    most = 0 if is_own_batch(candidates) else min(3, len(checks[0].error))
    several = [judge_row(candidates, row, m=m) for m in range(1, most + 1)]
    return {
        "basis": "own batch" if is_own_batch(candidates) else "next batch",
        "is_reached": bool(enough),
        "n_specimens": best.schedule.n if enough else None,
        "schedule": best.schedule,
        "rms": best.rms,
        "within_tolerance": best.share,
        "n_specimens_beyond": beyond,
        "within_with_endless_specimens": max(projected.share(math.sqrt(rest)), best.share),
        "by_trial_batches": [(each.rms, each.share) for each in several],
        "steps": steps_of(candidates),
    }
