"""The lowest loss under any restriction, judged on batches that did not choose it: what prices and minima rest on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize

from tests.oracle.plain.bounds import share_inside_lower
from tests.oracle.plain.candidates import Candidates, Schedule, by_unit
from tests.oracle.plain.figures import Used, assembled, level_of, rms_of, shares_of, worst_signed
from tests.oracle.plain.later_pours import later_pour_figures

TOLD_APART = 1.05
SAME = 1e-9


@dataclass(frozen=True)
class Standing:
    """What the allowed schedules can do."""

    schedule: Schedule
    joint: int
    used: Used
    rms: float
    level: float
    variance: float
    score_rms: float
    share: float
    lower_95: float


class Restricted:
    """Best joint of every schedule, with all units and without each."""

    def __init__(self, candidates: Candidates) -> None:
        self.candidates = candidates
        n_schedules, n_joints = len(candidates.schedules), len(candidates.joints)
        loss = candidates.loss.reshape(n_schedules, n_joints, -1)
        self._loss, self._joint = {}, {}
        n_units = loss.shape[2]
        for out in (None, *range(n_units)):
            kept = [u for u in range(n_units) if u != out]
            means = loss[:, :, kept].mean(axis=2)
            self._joint[out] = means.argmin(axis=1)
            self._loss[out] = means.min(axis=1)
        self._known: dict[bytes, Standing | None] = {}

    def standing(self, allowed: np.ndarray) -> Standing | None:
        key = allowed.tobytes()
        if key not in self._known:
            self._known[key] = self._standing(allowed)
        return self._known[key]

    def _standing(self, allowed: np.ndarray) -> Standing | None:
        candidates = self.candidates
        if not allowed.any():
            return None

        def best(out: int | None) -> tuple[Schedule, int]:
            at = int(np.where(allowed, self._loss[out], np.inf).argmin())
            return candidates.schedules[at], int(self._joint[out][at])

        schedule, joint = best(None)
        used = [best(out) for out in range(len(candidates.study.units))]
        at = assembled(candidates, used)
        level, variance = level_of(candidates, at)
        return Standing(
            schedule, joint, used, rms_of(candidates, at), level, variance,
            math.sqrt(self._loss[None][allowed].min()), shares_of(candidates, at)["within_tolerance"],
            share_inside_lower(worst_signed(candidates, at), candidates.limits.tolerance),
        )  # fmt: skip

    def later(self, found: Standing) -> dict[str, float]:
        return later_pour_figures(self.candidates, found.used)

    def frontier(self, amount: np.ndarray) -> list[tuple[float, Standing, float]]:
        """Limit, what stands there, and the error that never rises; neighbours with one schedule are one point."""
        points: list[tuple[float, Standing]] = []
        for limit in sorted(set(amount.tolist())):
            found = self.standing(amount <= limit)
            if found is not None and not (points and points[-1][1].schedule == found.schedule):
                points.append((limit, found))
        smooth = optimize.isotonic_regression([found.rms**2 for _, found in points], increasing=False).x
        return [(limit, found, math.sqrt(s)) for (limit, found), s in zip(points, smooth, strict=True)]

    def gains(self, schedule: Schedule, joint: int, rms: float) -> list[float]:
        """RMS with one more specimen at each age."""
        candidates = self.candidates
        at = candidates.at_checks[schedule.ages_h, joint]
        single = [by_unit(candidates.study, candidates.limits.shares, column).mean() for column in at.shares.T]
        return [
            math.sqrt(max(rms**2 - variance * (1 / n - 1 / (n + 1)), 0.0))
            for variance, n in zip(single, schedule.counts, strict=True)
        ]

    def needed(self, schedule: Schedule, rms: float) -> tuple[float, list[int] | None]:
        """RMS of another schedule, and the counts that bring it to this one's."""
        alone = self.standing(np.array([one == schedule for one in self.candidates.schedules]))
        assert alone is not None
        if alone.rms <= rms:
            return alone.rms, list(schedule.counts)
        room = rms**2 - (alone.level - alone.variance)
        if room <= 0 or alone.variance / room > 10:
            return alone.rms, None
        return alone.rms, [math.ceil(n * alone.variance / room - SAME) for n in schedule.counts]


def cost_of(schedule: Schedule, prices: dict[str, float], *, instrumented: int, spares: float) -> float:
    """One trial batch, attended once a calendar day."""
    days = schedule.cheapness[1]
    made = schedule.n + math.ceil(spares * schedule.n - SAME) + instrumented
    return (
        made * prices["specimen"]
        + schedule.n * (prices["preparation"] + prices["break"])
        + days * prices["visit"]
        + instrumented * prices["instrumented"]
        + prices["fixed"]
    )
