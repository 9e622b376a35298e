"""The smallest number of specimens that is enough, or why none is.

The same rule is run among choices with at most so many specimens, for every number, and repeated without
each batch. What it keeps inside the tolerance on the batches left out is held against the wanted assurance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.evidence import Cells
from planner.resampling import Draws, Scoring, figures_of
from planner.resampling.errors.arithmetic import share_inside
from planner.terms.plan.settings import Prior, Target
from planner.terms.results.recommended.validation_figures import NextBatchVerdict
from planner.terms.results.sample_size import Basis, CountStep, Enough, EnoughFigures, TrialBatches
from planner.terms.worded import worded
from planner.verdict.selection.nested import Nested, nested
from planner.verdict.selection.rule import Rule, Rung
from planner.verdict.validation.next_batch import next_batch_errors, next_batch_verdict, stated_verdict
from planner.verdict.validation.own_batch import share_lower
from planner.verdict.wording.programmes.sufficiency_words import sufficiency_words

MOST_TIMES_BUDGET = 50  # counts beyond this many times the count at hand are no counts any more


@dataclass(frozen=True, slots=True, eq=False)
class LadderStep:
    """One step of the ladder, before it is put in words."""

    most_specimens: int
    row: int  # taken on all batches
    basis: Basis
    rms: float
    bias: float
    share: float  # inside the tolerance
    lower_95: float | None
    variance: float  # mean variance of the specimens: what endless ones would take away
    later: NextBatchVerdict | None


def enough(
    rule: Rule,
    cells: Cells,
    scoring: Scoring,
    draws: Draws,
    *,
    target: Target,
    prior: Prior,
    rungs: Sequence[Rung],
) -> tuple[Enough, int] | None:
    """Walk up the number of specimens; None with fewer than two batches.

    Parameters
    ----------
    rungs
        From :meth:`Rule.rungs`.

    Returns
    -------
    tuple
        The verdict, and the row of the error matrix that it is about.
    """
    steps = ladder(rule, cells, scoring, draws, prior=prior, rungs=rungs)
    if not steps:
        return None
    reached = next((step for step in steps if step.share >= target.assurance), None)
    best = reached or max(steps, key=lambda step: (round(step.share, 9), -step.most_specimens))
    n_best = int(rule.matrix.choices.n_specimens[rule.matrix.choice_of(best.row)])
    share = projection(best, target.tolerance)
    endless = share(float(np.sqrt(max(best.rms**2 - best.variance, 0.0))))
    beyond = None if reached else count_beyond(best, n_best, share, target.assurance)
    trials = _trial_batches(best, n_best, share)
    figures = EnoughFigures(
        basis=best.basis,
        tolerance=target.tolerance,
        assurance=target.assurance,
        is_reached=reached is not None,
        n_specimens=n_best if reached else None,
        schedule=rule.matrix.choices.schedule(rule.matrix.choice_of(best.row)),
        rms=best.rms,
        within_tolerance=best.share,
        within_tolerance_lower_95=best.lower_95,
        n_specimens_beyond=beyond,
        within_with_endless_specimens=max(endless, best.share),
        by_trial_batches=trials,
        steps=tuple(_step(rule, step) for step in steps),
    )
    return worded(Enough, figures, sentence=sufficiency_words(figures, best.later, n_best)), best.row


def ladder(
    rule: Rule, cells: Cells, scoring: Scoring, draws: Draws, *, prior: Prior, rungs: Sequence[Rung]
) -> list[LadderStep]:
    """The rule under every limit on specimens, judged on batches it had not seen."""
    steps: list[LadderStep] = []
    known: dict[tuple[int, ...], LadderStep] = {}  # the same taken everywhere means the same verdict
    for rung in rungs:
        key = (rung.pick.chosen, *(value for unit, pick in rung.folds.items() for value in (unit, pick.chosen)))
        if key not in known:
            held_out = nested(rule.matrix, cells, scoring, draws, rung.folds)
            if held_out is None:
                continue
            known[key] = _judged(rule, cells, scoring, prior, held_out, rung)
        steps.append(replace(known[key], most_specimens=rung.most_specimens))
    return steps


def _judged(rule: Rule, cells: Cells, scoring: Scoring, prior: Prior, held_out: Nested, rung: Rung) -> LadderStep:
    most, row = rung.most_specimens, rung.pick.chosen
    figures = figures_of(cells, scoring, held_out.shown)
    own_level = float(np.mean(held_out.level))
    variance = float(np.mean(scoring.by_unit(np.nan_to_num(held_out.shown.schedule_variance))[held_out.units]))
    errors = next_batch_errors(rule.matrix, cells, scoring, held_out)
    later: NextBatchVerdict | None = None
    bias = figures.bias
    if errors is not None and errors.n_batches >= 2:
        later = next_batch_verdict(errors, scoring, own_level=own_level, own_rms=figures.rms)
        bias = float(errors.weight @ errors.error)
    elif prior.between_batch_cv is not None:
        later = stated_verdict(prior.between_batch_cv, scoring, own_level=own_level, own_rms=figures.rms)
    if later is not None:
        return LadderStep(
            most, row, "next batch", later.rms, bias, later.within_tolerance, later.within_tolerance_lower_95,
            variance, later,
        )  # fmt: skip
    lower = share_lower(held_out.signed, scoring)
    return LadderStep(most, row, "own batch", figures.rms, bias, figures.within_tolerance, lower, variance, None)


def _step(rule: Rule, step: LadderStep) -> CountStep:
    return CountStep(
        most_specimens=step.most_specimens,
        schedule=rule.matrix.choices.schedule(rule.matrix.choice_of(step.row)),
        rms=step.rms,
        within_tolerance=step.share,
        within_tolerance_lower_95=step.lower_95,
    )


def normal_share(rms: float, bias: float, tolerance: float) -> float:
    """Share inside the tolerance of normal errors with this RMS and bias, the bias never above the RMS."""
    middle = min(abs(bias), rms)
    return float(share_inside(middle, float(np.sqrt(max(rms**2 - middle**2, 0.0))), tolerance))


def projection(step: LadderStep, tolerance: float) -> Callable[[float], float]:
    """From an RMS to a share inside: the normal law, scaled so that today's RMS gives today's share.

    Measured errors are not quite normal; without the scale a projection would start beside the figure that
    it continues.
    """
    low, high = 0.05, 20.0
    for _ in range(60):
        middle = float(np.sqrt(low * high))
        if normal_share(middle * step.rms, min(abs(step.bias), middle * step.rms), tolerance) > step.share:
            low = middle
        else:
            high = middle
    scale = high

    def share(rms: float) -> float:
        return normal_share(scale * rms, min(abs(step.bias), scale * rms), tolerance)

    return share


def count_beyond(step: LadderStep, n_specimens: int, share: Callable[[float], float], assurance: float) -> int | None:
    """Specimens at which the share would reach the assurance, the schedule grown in proportion."""
    rest = max(step.rms**2 - step.variance, 0.0)
    if share(float(np.sqrt(rest))) < assurance:
        return None
    for count in range(n_specimens + 1, MOST_TIMES_BUDGET * n_specimens + 1):
        if share(float(np.sqrt(rest + step.variance * n_specimens / count))) >= assurance:
            return count
    return None


def _trial_batches(step: LadderStep, n_specimens: int, share: Callable[[float], float]) -> tuple[TrialBatches, ...]:
    if step.later is None:
        return ()
    return tuple(
        TrialBatches(n_trial_batches=m, n_specimens=m * n_specimens, rms=rms, within_tolerance=share(rms))
        for m, rms in enumerate(step.later.rms_by_trial_batches, start=1)
    )
