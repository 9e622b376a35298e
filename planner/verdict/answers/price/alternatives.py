"""What else the money could buy, side by side, and when each curve is there."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from planner.choices import choice_set, extra_choices
from planner.resampling.errors.later_pours.judged_programmes import Programmes, judge
from planner.terms.plan.money_limit import keeps_money
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, JudgedOn
from planner.terms.results.after_casting.early_answer import EarlyBreakRow
from planner.terms.results.price_parts import Alternative, ProgrammeDays, Stage
from planner.terms.results.programme_count import Estimate
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.selection.programmes.programme import TOLD_TRIAL_BATCHES
from planner.verdict.selection.search import Search
from planner.verdict.wording.programmes.early_break_words import batches_name, early_programme_name

FEWEST_TO_FIT = 2  # ages: a curve through one break is none
Priced = Callable[[RatedChoice, int], Estimate]
Days = Callable[[Schedule, int], ProgrammeDays]


def alternatives_of(search: Search, advice: Recommendation, priced: Priced, days: Days) -> tuple[Alternative, ...]:
    """Trial batches, early breaks of the pours, the customary schedule and the reader's own; () from drawn batches.

    Parameters
    ----------
    priced
        Estimate of a schedule with so many trial batches.
    days
        When so many trial batches of a schedule are cast and broken.
    """
    if search.programmes is None or advice.spending is None:
        return ()
    taken = advice.spending.recommended
    numbers = sorted({*TOLD_TRIAL_BATCHES, taken.n_trial_batches})
    rows = [
        _alternative(search, advice.recommended, number, priced, days, name=batches_name(number)) for number in numbers
    ]
    rows += _with_early_breaks(search, advice, rows)
    others = [(advice.customary, "customary ages"), *_named(advice.compared)]
    rows += [
        _alternative(search, choice, taken.n_trial_batches, priced, days, name=name)
        for choice, name in others
        if choice is not None
    ]
    return tuple(rows)


def _named(compared: Sequence[RatedChoice]) -> list[tuple[RatedChoice, str]]:
    """The reader's own schedules, numbered where there are several."""
    return [
        (choice, f"your schedule {at}" if len(compared) > 1 else "your schedule")
        for at, choice in enumerate(compared, 1)
    ]


def _alternative(
    search: Search, choice: RatedChoice, number: int, priced: Priced, days: Days, *, name: str
) -> Alternative:
    answer = priced(choice, number)
    later = _judged(search, choice, (choice.schedule,), number, judged_on="later pour")
    budget = search.plan.settings.budget
    n_specimens = number * choice.schedule.n_specimens
    programme = search.plan.settings.programme_asked
    allowed = () if programme.relies_on_records else programme.allowed_trial_batches
    return Alternative(
        name=name,
        n_trial_batches=number,
        schedule=choice.schedule,
        cost=answer.total,
        later_rms=None if later is None else _finite(later.rms[0, 0]),
        within_tolerance=None if later is None else _finite(later.within_tolerance[0, 0]),
        stages=stages_of(search, choice, number, days(choice.schedule, number)),
        is_within_limits=number in allowed
        and n_specimens <= budget.specimens
        and keeps_money(answer.total, budget.cost),
        is_recommended=not programme.relies_on_records
        and choice.schedule == search.matrix.choices.schedule(search.chosen.taken.which)
        and number == search.chosen.taken.n_trial_batches
        if search.chosen is not None
        else False,
    )


def _with_early_breaks(search: Search, advice: Recommendation, rows: Sequence[Alternative]) -> list[Alternative]:
    """The records alone, and what every pour breaks before it is read, with the trial batches that are worth it.

    Where those are others than the bid's, the same number of early specimens stands with the bid's trial batches too.
    """
    early = advice.early_breaks
    if early is None or early.recommended is None or not early.by_trials:
        return []
    best = early.rows[early.recommended]
    bid = next((row.n_trial_batches for row in rows if row.is_recommended), best.n_trial_batches)
    beside = early.by_trials[bid] if bid < len(early.by_trials) else ()
    found = [
        *(row for row in early.by_trials[0] if row.n_specimens == 0),
        best,
        *(row for row in beside if row.n_specimens == best.n_specimens),
    ]
    kept = {(row.n_trial_batches, row.n_specimens): row for row in found}
    is_none_cast = search.plan.settings.programme_asked.relies_on_records
    return [_with_early(row, rows, is_none_cast=is_none_cast, is_best=row == best) for row in kept.values()]


def _with_early(row: EarlyBreakRow, rows: Sequence[Alternative], *, is_none_cast: bool, is_best: bool) -> Alternative:
    """Where the plan casts nothing, the best of the records with what the pours break is what is bid."""
    number = row.n_trial_batches
    base = next((item for item in rows if item.n_trial_batches == number), None)
    return Alternative(
        name=early_programme_name(row.n_trial_batches, row.n_specimens),
        n_trial_batches=number,
        schedule=None if base is None else base.schedule,
        cost=row.cost_in_all if row.n_specimens else row.cost_of_calibration,
        later_rms=row.rms,
        within_tolerance=row.within_tolerance,
        stages=() if base is None else base.stages,
        n_early=row.n_specimens,
        is_within_limits=(number == 0 and is_none_cast) or (base is not None and base.is_within_limits),
        is_recommended=number == 0 and is_none_cast and is_best,
    )


def stages_of(search: Search, choice: RatedChoice, number: int, days: ProgrammeDays) -> tuple[Stage, ...]:
    """The recommended curve through the first ages of a schedule, as soon as they carry it; the whole one last.

    The breaks of the last of several trial batches decide.
    """
    schedule, fewest = choice.schedule, 1 if choice.curve in PRIOR_CURVE_NAMES else FEWEST_TO_FIT
    first = [Schedule(schedule.ages_h[:n], schedule.specimens[:n]) for n in range(fewest, schedule.n_ages + 1)]
    own = _judged(search, choice, first, number, judged_on="own batch")
    later = _judged(search, choice, first, number, judged_on="later pour")
    if own is None:
        return ()
    return tuple(
        Stage(
            age_h=part.ages_h[-1] + days.last_cast_h,
            n_ages=part.n_ages,
            own_rms=float(own.rms[place, 0]),
            later_rms=None if later is None else _finite(later.rms[place, 0]),
            due=days.due[part.n_ages - 1] if days.due else None,
        )
        for place, part in enumerate(first)
        if np.isfinite(own.rms[place, 0])
    )


def _judged(
    search: Search, choice: RatedChoice, schedules: Sequence[Schedule], number: int, *, judged_on: JudgedOn
) -> Programmes | None:
    cells, matrix = search.cells, search.matrix
    found = [item for item in extra_choices(schedules, cells.ages_h) if item is not None]
    key = (choice.curve, choice.weighting, choice.maturity)
    joint = [j for j, item in enumerate(matrix.joints) if (item.curve, item.weighting, item.maturity) == key]
    if len(found) < len(schedules) or not joint:
        return None
    rows = np.arange(len(found))
    return judge(
        cells, search.scoring, choice_set(cells.ages_h, found), rows, np.full(len(found), joint[0]), matrix.joints,
        judged_on=judged_on, trial_batches=(number,),
    )  # fmt: skip


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
