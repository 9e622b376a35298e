"""Every allowed programme with its own held-out figures: what the least is looked for among.

A programme is a schedule times a number of trial batches. Its figures do not depend on what else was offered, so that
the least of a narrower plan is never less than that of a wider one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.choices import ChoiceSet, choice_set, extra_choices
from planner.resampling.errors.later_pours.judged_programmes import judge
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.plan.settings import JudgedOn
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.verdict.answers.minimum.spans import spanning
from planner.verdict.answers.programmes.spending import programme_of
from planner.verdict.selection.programmes.fixed_programmes import FixedProgramme, FixedProgrammes
from planner.verdict.selection.programmes.programme import Taken
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
from planner.verdict.selection.programmes.programme_table import ProgrammeTable
from planner.verdict.selection.programmes.set_counts import Counted, SetCounts, evenly
from planner.verdict.selection.search import Search

FEWEST_UNITS = 2


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AllowedProgrammes:
    """What can be asked of the fixed programmes; masks over schedules are ``(n_choices,)``."""

    search: Search
    rule: ProgrammeRule
    fixed: FixedProgrammes  # decides what is possible, enough and fewest

    @property
    def judged_on(self) -> JudgedOn:
        return self.fixed.judged_on

    @property
    def choices(self) -> ChoiceSet:
        return self.rule.rule.matrix.choices

    @property
    def numbers(self) -> IntArray:
        """Numbers of trial batches, the columns of all figures."""
        return np.array(self.fixed.trial_batches, dtype=np.int64)

    @property
    def is_allowed(self) -> BoolArray:
        """Programmes within the limits that can be judged, ``(n_choices, n_numbers)``."""
        return self.fixed.is_possible

    @property
    def is_keeping(self) -> BoolArray:
        """Those that keep the target, ``(n_choices, n_numbers)``."""
        return np.asarray(self.is_allowed & self.fixed.is_enough)

    @property
    def counted(self) -> Counted:
        """What is told of all programmes, those too that the search has let go of."""
        if self.search.counted is not None and self.judged_on == self.rule.wanted.judged_on:
            return self.search.counted
        by_set = SetCounts.of(self.fixed, self.choices.set_of, self.choices.n_sets)
        return Counted(by_set, evenly(np.flatnonzero(self.is_allowed.any(axis=1))))

    @property
    def table(self) -> ProgrammeTable:
        """Every allowed programme, those too that the search has let go of where it has written them down."""
        counted = self.search.counted
        if counted is not None and counted.table is not None:
            return counted.table
        return ProgrammeTable.of(self.fixed, self.rule.limits, self.choices, self.rule.rule.matrix.score)

    @property
    def is_spanning(self) -> BoolArray:
        """Schedules with a break on both sides of every target, ``(n_choices,)``."""
        matrix = self.rule.rule.matrix
        return spanning(self.rule.cells, self.choices, matrix.best_joint, matrix.joints)

    @property
    def cost(self) -> FloatArray | None:
        """Of whole calibrations, ``(n_choices, n_numbers)``; None without prices."""
        every = np.arange(len(self.choices))
        parts = [self.rule.limits.cost(every, int(m)) for m in self.numbers]
        return None if parts[0] is None else np.stack([part for part in parts if part is not None], axis=1)

    def fewest_keeping(self, is_choice: BoolArray | None = None) -> Programme | None:
        """Of some schedules the programme with the fewest specimens that keeps the target; None where none does."""
        decision = self.fixed.decide(is_choice)
        return None if decision is None or decision.fewest is None else self._programme(decision.fewest)

    def fewest_allowed(self, is_choice: BoolArray) -> Programme | None:
        """Of some schedules the programme with the fewest specimens, then of lowest own-batch loss."""
        which, column = np.nonzero(self.is_allowed & is_choice[:, None])
        if not which.size:
            return None
        matrix = self.rule.rule.matrix
        first = int(np.lexsort((matrix.score[which], self.fixed.n_specimens[which] * self.numbers[column]))[0])
        taken = Taken(int(which[first]), int(matrix.best_joint[which[first]]), int(self.numbers[column[first]]))
        return programme_of(self.search, self.rule, taken)

    def written_down(self, table: ProgrammeTable, row: int) -> Programme:
        """One programme of the table with its figures and bounds, whether or not its schedule is still held."""
        held = np.flatnonzero(table.counts[row])
        cost = None if table.cost is None else float(table.cost[row])
        return _outside(
            self.search, self.rule, (tuple(held.tolist()), tuple(table.counts[row, held].tolist())),
            joint=int(table.joint[row]), score=float(table.score[row]), n_visits=int(table.n_visits[row]),
            n_trial_batches=int(table.numbers[row]), money=cost,
        )  # fmt: skip

    def lowest(self, is_choice: BoolArray) -> float | None:
        """Lowest judged error of some schedules; None where none can be judged."""
        decision = self.fixed.decide(is_choice)
        return None if decision is None else decision.lowest.rms

    def _programme(self, programme: FixedProgramme) -> Programme:
        return programme_of(self.search, self.rule, Taken(programme.which, programme.joint, programme.n_trial_batches))


def allowed_programmes(search: Search, judged_on: JudgedOn | None = None) -> AllowedProgrammes | None:
    """Judge every allowed programme; None where batches are drawn, or fewer than two can be held apart.

    Parameters
    ----------
    judged_on
        What they are judged on; as the plan asks where None.
    """
    rule = search.programmes
    if rule is None or search.chosen is None or rule.cells.n_units < FEWEST_UNITS:
        return None
    fixed = rule.fixed()
    if judged_on is not None and judged_on != fixed.judged_on:
        matrix = rule.rule.matrix
        judged = judge(
            rule.cells, rule.scoring, matrix.choices, np.arange(len(matrix.choices)), matrix.best_joint, matrix.joints,
            judged_on=judged_on, trial_batches=fixed.trial_batches, n_workers=rule.n_workers,
        )  # fmt: skip
        fixed = replace(fixed, judged_on=judged_on, rms=judged.rms, within_tolerance=judged.within_tolerance)
    return AllowedProgrammes(search=search, rule=rule, fixed=fixed)


def outside_programme(search: Search, choice: RatedChoice | None) -> Programme | None:
    """A rated schedule that the plan need not allow, with as many trial batches as are recommended.

    None where no batch was broken at its ages.
    """
    rule = search.programmes
    if choice is None or rule is None:
        return None
    placed = extra_choices([choice.schedule], rule.cells.ages_h)[0]
    joint = next(
        (
            at
            for at, item in enumerate(rule.rule.matrix.joints)
            if (item.curve, item.weighting, item.maturity) == (choice.curve, choice.weighting, choice.maturity)
        ),
        None,
    )
    if placed is None or joint is None:
        return None
    return _outside(
        search, rule, placed, joint=joint, score=choice.score, n_visits=choice.n_visits,
        n_trial_batches=search.n_trial_batches, money=choice.cost,
    )  # fmt: skip


def _outside(
    search: Search,
    rule: ProgrammeRule,
    placed: tuple[tuple[int, ...], tuple[int, ...]],
    *,
    joint: int,
    score: float,
    n_visits: int,
    n_trial_batches: int,
    money: float | None,
) -> Programme:
    """A programme whose schedule the search does not hold: positions of its ages with their specimens."""
    alone = choice_set(rule.cells.ages_h, [placed])
    limits = replace(
        rule.limits,
        n_specimens=alone.n_specimens,
        n_visits=np.array([n_visits]),
        last_age_h=alone.last_age_h,
        batch_cost=None,
    )
    matrix = rule.rule.matrix
    matrix = replace(matrix, choices=alone, score=np.array([score]), best_joint=np.array([joint]))
    judged = judge(
        rule.cells, rule.scoring, alone, np.array([0]), matrix.best_joint, matrix.joints,
        judged_on=rule.wanted.judged_on, trial_batches=rule.everything.trial_batches,
    )  # fmt: skip
    fronts = tuple(np.array([0]) for _ in limits.trial_batches)
    beside = replace(rule, rule=replace(rule.rule, matrix=matrix), limits=limits, everything=judged, fronts=fronts)
    return programme_of(search, beside, Taken(0, joint, n_trial_batches), money=money)
