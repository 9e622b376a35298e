"""The least that has to be broken with one trial batch, by hand: every schedule judged one by one as it stands."""

from __future__ import annotations

import numpy as np

from tests.oracle.plain.candidates import Candidates, Schedule
from tests.oracle.plain.programmes import judge_row
from tests.oracle.plain.taken import best_rows

TOLD_APART = 1.05


class LeastProgrammes:
    """Figures of fixed schedules, each with its curve of lowest loss."""

    def __init__(self, candidates: Candidates, assurance: float) -> None:
        self.candidates = candidates
        self.schedules: list[Schedule] = candidates.schedules
        self.rows = best_rows(candidates)
        judged = [judge_row(candidates, row) for row in self.rows]
        self.rms = np.array([each.rms for each in judged])
        self.share = np.array([each.share for each in judged])
        self.keeps = self.share >= assurance
        self.n = np.array([schedule.n for schedule in self.schedules])
        self.n_ages = np.array([len(schedule.ages_h) for schedule in self.schedules])
        self.first = np.array([schedule.ages_h[0] for schedule in self.schedules])
        self.last = np.array([schedule.ages_h[-1] for schedule in self.schedules])
        self.offered = sorted({age for schedule in self.schedules for age in schedule.ages_h})

    def joint(self, at: int) -> tuple[str, str, int]:
        return self.candidates.joints[self.candidates.of(self.rows[at])[1]]

    def fewest(self, allowed: np.ndarray) -> int | None:
        """Place of the schedule with the fewest specimens that keeps the target, of those read closest."""
        places = np.flatnonzero(allowed & self.keeps)
        return None if not len(places) else int(min(places, key=lambda at: (self.n[at], self.rms[at])))

    def leasts(self) -> dict[str, int | None]:
        if not self.keeps.any():
            return {}
        everything = np.ones(len(self.n), dtype=bool)
        return {
            "breaks": self.fewest(everything),
            "ages": self.fewest(self.n_ages == self.n_ages[self.keeps].min()),
            "latest first break": self.fewest(self.first == self.first[self.keeps].max()),
            "earliest last break": self.fewest(self.last == self.last[self.keeps].min()),
        }

    def need(self, age: float) -> tuple[str, float | None, float | None]:
        has = np.array([age in schedule.ages_h for schedule in self.schedules])
        with_it, without = (float(self.rms[mask].min()) if mask.any() else None for mask in (has, ~has))
        if (self.keeps & has).any() and not (self.keeps & ~has).any() and without is not None:
            return "must be there", with_it, without
        helps_not = with_it is None or (without is not None and with_it > TOLD_APART * without)
        return "does not help" if helps_not else "may be there", with_it, without
