"""The whole calibration around a recommendation: what it asks of the laboratory, and what pours break later."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from planner.laboratory.casting.casting_times import castings_at
from planner.laboratory.clock.opening_hours import SECONDS_PER_HOUR
from planner.laboratory.costs.estimate import estimate, geometry_of
from planner.terms.plan.settings import BETWEEN_CASTINGS_H, Settings
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.price_parts import ProgrammeDays
from planner.terms.results.programme_count import Estimate
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.schedule import Schedule
from planner.verdict.answers.continuing.if_then_tables import if_then
from planner.verdict.answers.early_breaks.early_break_study import early_breaks
from planner.verdict.answers.maturity_constants.constants_study import constants_study
from planner.verdict.answers.recommendation.advice import Calibration
from planner.verdict.selection.search import Search


def whole_calibration(search: Search, recommended: RatedChoice) -> Calibration:
    """What the recommended schedule asks of the laboratory, and what goes on after casting."""
    role, schedule = recommended.label, recommended.schedule
    early = early_breaks(
        search, recommended, lambda number: estimate_of(search, role, schedule, n_trial_batches=number).total
    )
    return Calibration(
        estimate=estimate_of(search, role, schedule, early),
        price=lambda role, schedule: estimate_of(search, role, schedule),
        early_breaks=early,
        if_then=if_then(search, recommended, early),
        constants=constants_study(search, recommended),
    )


def estimate_of(
    search: Search,
    role: ChoiceRole,
    schedule: Schedule,
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
    positions = [int(abs(cells.ages_h - age).argmin()) for age in schedule.ages_h]
    return estimate(
        role,
        schedule,
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
        targets_h=settings.target.ages_h,
        pour_breaks=None if early is None else early.pour_breaks,
    )


def days_of(settings: Settings, schedule: Schedule, n_trial_batches: int) -> ProgrammeDays:
    """When trial batches are cast and broken; trial batches without a casting time follow a day apart."""
    castings = castings_at(settings.castings, schedule, settings)[:n_trial_batches]
    later_h = BETWEEN_CASTINGS_H * (n_trial_batches - max(len(castings), 1))
    if not castings:
        return ProgrammeDays(last_cast_h=later_h)
    cast_at = [times.cast_at.timestamp() for times in castings]
    ends = [[slot.ends_at for slot in times.slots] for times in castings]
    later = dt.timedelta(hours=later_h)
    return ProgrammeDays(
        last_cast_h=(max(cast_at) - min(cast_at)) / SECONDS_PER_HOUR + later_h,
        due=tuple(max(times[place] for times in ends) + later for place in range(schedule.n_ages)),
    )
