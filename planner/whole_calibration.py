"""The whole calibration around a recommendation: what it asks of the laboratory, and what was searched."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Sequence
from dataclasses import replace

from planner.laboratory.casting_times import castings_at
from planner.laboratory.estimate import estimate, geometry_of
from planner.terms.plan.settings import BETWEEN_CASTINGS_H, Settings
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.price_parts import Alternative, Stage
from planner.terms.results.programme_count import Estimate
from planner.terms.results.recommendation import RatedChoice, Recommendation, SearchFacts
from planner.verdict.answers.constants_study import constants_study
from planner.verdict.answers.continuing.if_then_tables import if_then
from planner.verdict.answers.early_break_study import early_breaks
from planner.verdict.answers.redaction import without_promises
from planner.verdict.answers.waiting_hours import waiting
from planner.verdict.selection.search import Search
from planner.verdict.validation.drawn_verdict import promises_nothing
from planner.verdict.wording.spending_words import with_pours


def calibrated(search: Search, result: Recommendation, *, started: float) -> Recommendation:
    """The recommendation with its programme, estimate and facts; `started` is a ``time.perf_counter``."""
    early, money = early_breaks(search, result.recommended), result.spending
    priced = estimate_of(search, result.recommended, early)
    whole = replace(
        result,
        search=_facts(search, seconds=time.perf_counter() - started),
        programme=priced.count,
        estimate=priced,
        customary=None if result.customary is None else _costed(search, result.customary),
        equal_gain=None if result.equal_gain is None else _costed(search, result.equal_gain),
        compared=tuple(_costed(search, choice) for choice in result.compared),
        early_breaks=early,
        if_then=if_then(search, result.recommended, early),
        spending=None if money is None else replace(money, sentences=with_pours(money, early)),
        waiting=waiting(search, result),
        constants=constants_study(search, result.recommended),
    )
    # again: what was added here may promise too
    return without_promises(whole) if promises_nothing(search.basis.population, search.plan.settings) else whole


def _costed(search: Search, choice: RatedChoice) -> RatedChoice:
    """A schedule from outside the search, with what it asks of the laboratory."""
    told = estimate_of(search, choice)
    return replace(choice, cost=told.total, n_visits=told.n_visits)


def estimate_of(
    search: Search,
    choice: RatedChoice,
    early: EarlyBreaks | None = None,
    *,
    n_trial_batches: int | None = None,
) -> Estimate:
    """Count and price one schedule.

    Parameters
    ----------
    early
        What the pours break before they are read, if anything.
    n_trial_batches
        As many as recommended where None.
    """
    settings, cells = search.plan.settings, search.cells
    positions = [int(abs(cells.ages_h - age).argmin()) for age in choice.schedule.ages_h]
    return estimate(
        choice.label,
        choice.schedule,
        programme=replace(
            settings.programme_asked,
            trial_batches=n_trial_batches or search.n_trial_batches,
            most_trial_batches=None,
        ),
        costs=settings.costs,
        laboratory=settings.laboratory,
        within_test_cv=tuple(float(cells.cv[position]) for position in positions),
        windows=settings.castings,
        geometry=settings.prior.geometry or geometry_of(search.plan.records),
        n_targets=len(settings.target.ages_h),
        pour_breaks=None if early is None else early.pour_breaks,
    )


def dated(alternatives: Sequence[Alternative], settings: Settings) -> tuple[Alternative, ...]:
    """When the last specimen of every stage is broken, in the last trial batch; as given without casting times.

    One casting time for several trial batches is that of the first; the others follow a day apart.
    """
    if not settings.castings:
        return tuple(alternatives)
    return tuple(replace(item, stages=_on_the_clock(item, settings)) for item in alternatives)


def _on_the_clock(item: Alternative, settings: Settings) -> tuple[Stage, ...]:
    castings = castings_at(settings.castings, item.schedule, settings)[: item.n_trial_batches]
    later = dt.timedelta(hours=BETWEEN_CASTINGS_H * (item.n_trial_batches - len(castings)))
    ends = [[slot.ends_at for slot in times.slots] for times in castings]
    return tuple(replace(stage, due=max(times[stage.n_ages - 1] for times in ends) + later) for stage in item.stages)


def _facts(search: Search, *, seconds: float) -> SearchFacts:
    matrix = search.matrix
    return SearchFacts(
        n_choices=matrix.n_searched,
        n_joint_choices=matrix.n_searched * len(matrix.joints),
        n_fits=matrix.n_fits,
        n_at_bound=matrix.n_at_bound,
        n_unconverged=matrix.n_unconverged,
        n_second_looks=matrix.n_second_looks,
        n_draws=search.draws.n_draws,
        seed=search.seed,
        seconds=seconds,
    )
