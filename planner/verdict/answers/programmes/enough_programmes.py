"""The fewest specimens that are enough, from the figures of fixed programmes; or why none are.

A programme is enough where its own share of batches inside the tolerance reaches the assurance. The figures
do not depend on what else was offered, so that a plan that allows more can never make less possible.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.resampling.errors.later_pours.judged_programmes import judge_by_unit
from planner.terms.plan.settings import Target
from planner.terms.results.programme_figures import Programme, Spending
from planner.terms.results.recommended.validation_figures import NextBatchVerdict
from planner.terms.results.sample_size import CountStep, Enough, EnoughFigures, TrialBatches
from planner.terms.worded import worded
from planner.verdict.answers.programmes.enough_specimens import LadderStep, count_beyond, projection
from planner.verdict.answers.programmes.spending import programme_of
from planner.verdict.selection.programmes.price_ladder import rungs_of
from planner.verdict.selection.programmes.programme import TOLD_TRIAL_BATCHES, Chosen, Taken
from planner.verdict.selection.programmes.programme_rule import ProgrammeRule
from planner.verdict.selection.search import Search
from planner.verdict.wording.programmes.sufficiency_words import sufficiency_words


@dataclass(frozen=True, slots=True, eq=False)
class FewestEnough:
    """The verdict, and the programme it is about."""

    verdict: Enough
    taken: Taken


def fewest_enough(
    search: Search,
    rule: ProgrammeRule,
    chosen: Chosen,
    spending: Spending,
    *,
    target: Target,
    later: NextBatchVerdict | None,
) -> FewestEnough:
    """The fewest specimens of all programmes within the limits; where none is enough, of the recommended."""
    fewest = rule.fewest_enough()
    taken = chosen.taken if fewest is None else fewest
    programme = spending.recommended if taken == chosen.taken else programme_of(search, rule, taken)
    step = _ladder_step(rule, programme, taken)
    share = projection(step, target.tolerance)
    endless = share(float(np.sqrt(max(step.rms**2 - step.variance, 0.0))))
    figures = EnoughFigures(
        basis=step.basis,
        tolerance=target.tolerance,
        assurance=target.assurance,
        is_reached=fewest is not None,
        n_specimens=None if fewest is None else programme.n_specimens,
        schedule=programme.schedule,
        rms=step.rms,
        within_tolerance=step.share,
        within_tolerance_lower_95=step.lower_95,
        n_specimens_beyond=None
        if fewest is not None
        else count_beyond(step, programme.n_specimens, share, target.assurance),
        within_with_endless_specimens=max(endless, step.share),
        by_trial_batches=_by_trial_batches(rule, taken, programme),
        steps=_steps(rule, taken.n_trial_batches),
        n_trial_batches=taken.n_trial_batches,
    )
    words = sufficiency_words(figures, later, programme.n_specimens)
    return FewestEnough(worded(Enough, figures, sentence=words), taken)


def _ladder_step(rule: ProgrammeRule, programme: Programme, taken: Taken) -> LadderStep:
    matrix = rule.rule.matrix
    by_unit = judge_by_unit(
        rule.cells, rule.scoring, matrix.choices, np.array([taken.which]), np.array([taken.joint]), matrix.joints,
        judged_on=rule.wanted.judged_on, trial_batches=(taken.n_trial_batches,),
    )  # fmt: skip
    variance = float(np.nanmean(by_unit.variance[0, 0]))
    later = programme.next_batch
    if rule.wanted.judged_on == "own batch" or later is None:
        return LadderStep(
            programme.n_specimens, taken.which, "own batch", programme.own_batch_rms, 0.0,
            programme.own_batch_within_tolerance, None, variance, None,
        )  # fmt: skip
    return LadderStep(
        programme.n_specimens, taken.which, "next batch", later.rms, 0.0, later.within_tolerance,
        later.within_tolerance_lower_95, variance, None,
    )  # fmt: skip


def _by_trial_batches(rule: ProgrammeRule, taken: Taken, programme: Programme) -> tuple[TrialBatches, ...]:
    """The same schedule with 1, 2, 3 trial batches, where it is judged on later pours."""
    if rule.wanted.judged_on == "own batch":
        return ()
    columns = [rule.everything.trial_batches.index(m) for m in TOLD_TRIAL_BATCHES]
    return tuple(
        TrialBatches(
            n_trial_batches=m,
            n_specimens=m * programme.schedule.n_specimens,
            rms=float(rule.everything.rms[taken.which, column]),
            within_tolerance=float(rule.everything.within_tolerance[taken.which, column]),
        )
        for m, column in zip(TOLD_TRIAL_BATCHES, columns, strict=True)
        if np.isfinite(rule.everything.rms[taken.which, column])
    )


def _steps(rule: ProgrammeRule, n_trial_batches: int) -> tuple[CountStep, ...]:
    """The schedule of lowest own-batch loss with at most so many specimens in each trial batch."""
    matrix = rule.rule.matrix
    training = rule.rule.training(np.ones(rule.cells.n_units, dtype=bool))
    which = matrix.row_choice[training.rows]
    counts = rule.limits.n_specimens[which]
    rungs = rungs_of(training.loss.mean(axis=1), counts)
    column = rule.everything.trial_batches.index(n_trial_batches)
    return tuple(
        CountStep(
            most_specimens=int(counts[at]) * n_trial_batches,
            schedule=matrix.choices.schedule(int(which[at])),
            rms=float(rule.everything.rms[which[at], column]),
            within_tolerance=float(rule.everything.within_tolerance[which[at], column]),
            within_tolerance_lower_95=None,
        )
        for at in rungs
        if rule.limits.allows(which[[at]], n_trial_batches)[0] and np.isfinite(rule.everything.rms[which[at], column])
    )
