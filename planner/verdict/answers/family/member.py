"""One mix of a family with all its allowed programmes, coded so that those of other mixes can be held against them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.results.minimum.family_figures import FamilyRule
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.answers.minimum.spans import spans_of
from planner.verdict.selection.programmes.programme_table import ProgrammeTable
from planner.verdict.selection.search import Search


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Member:
    """Programmes are rows, one for each schedule and number of trial batches."""

    plan: str
    mix: str
    currency: str
    final_set_h: float
    temperature_c: tuple[float, float] | None
    ages_h: FloatArray  # recorded ages, (n_ages,)
    counts: AnyArray  # specimens of a trial batch at each, (n_programmes, n_ages)
    numbers: AnyArray  # of trial batches, (n_programmes,)
    is_keeping: BoolArray  # (n_programmes,)
    rms: AnyArray  # judged, (n_programmes,)
    cost: FloatArray | None  # (n_programmes,)
    shares: FloatArray  # maturity at each age as a share of the earliest target's, (n_ages,)

    def rule(self, row: int) -> FamilyRule:
        """A row as a value."""
        held = np.flatnonzero(self.counts[row])
        schedule = Schedule(
            tuple(float(self.ages_h[at]) for at in held), tuple(int(self.counts[row, at]) for at in held)
        )
        return FamilyRule(schedule, int(self.numbers[row]))

    def row_of(self, rule: FamilyRule) -> int:
        """The row of a rule that is among the programmes."""
        wanted = dict(zip(rule.schedule.ages_h, rule.schedule.specimens, strict=True))
        counts = [wanted.get(float(age_h), 0) for age_h in self.ages_h]
        return int(np.flatnonzero((self.counts == counts).all(axis=1) & (self.numbers == rule.n_trial_batches))[0])

    def n_specimens(self) -> IntArray:
        """Over all trial batches, ``(n_programmes,)``."""
        return np.asarray(self.counts.sum(axis=1, dtype=np.int64) * self.numbers)

    def own_fewest(self) -> int | None:
        """Row of the fewest breaks that keep the target, of those read closest; None where none keeps it."""
        rows = np.flatnonzero(self.is_keeping)
        if not rows.size:
            return None
        return int(rows[np.lexsort((self.rms[rows], self.n_specimens()[rows]))[0]])


def codes_of(members: Sequence[Member]) -> list[IntArray]:
    """One whole number for each programme of each mix, the same wherever the breaks are the same."""
    union_h = np.unique(np.concatenate([member.ages_h for member in members]))
    parts = []
    for member in members:
        wide = np.zeros((len(member.counts), len(union_h) + 1), dtype=np.int16)
        wide[:, np.searchsorted(union_h, member.ages_h)] = member.counts
        wide[:, -1] = member.numbers
        parts.append(wide)
    _, codes = np.unique(np.concatenate(parts), axis=0, return_inverse=True)
    ends = np.cumsum([len(part) for part in parts])[:-1]
    return [np.asarray(code, dtype=np.int64) for code in np.split(codes.ravel(), ends)]


def member_of(plan: str, advice: Recommendation, search: Search, table: ProgrammeTable) -> Member:
    """Lay out the allowed programmes of one plan."""
    assert search.chosen is not None
    joint = search.matrix.joints[search.chosen.taken.joint]
    spans = spans_of(search.cells, search.cells.settings.index(joint.maturity))
    return Member(
        plan=plan,
        mix=advice.valid_for.mix or plan,
        currency=advice.currency,
        final_set_h=search.plan.settings.final_set_h,
        temperature_c=advice.valid_for.concrete_temperature_c,
        ages_h=search.matrix.choices.ages_h,
        counts=table.counts,
        numbers=table.numbers,
        is_keeping=table.is_keeping,
        rms=table.rms,
        cost=table.cost,
        shares=spans.at_age_h / spans.target_h[0],
    )
