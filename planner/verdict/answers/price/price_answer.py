"""The answer to an estimator: frontiers, gains, equalities and estimates in one frozen value."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Costs, Settings
from planner.terms.results.answers import PriceAnswer, SpecimenGain
from planner.terms.results.price_parts import Alternative, Risk
from planner.terms.results.programme_count import Estimate
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.answers.price.pricing import equality, frontier_along, specimen_steps
from planner.verdict.validation.restricted import FoldTable

PRICE_KEYS = (
    "specimen",
    "preparation",
    "break",
    "visit",
    "visit_outside_hours",
    "instrumented",
    "fixed",
    "casting",
)  # of [costs], to be filled in where a plan has no such table


def priced_choices(advice: Recommendation) -> tuple[RatedChoice, ...]:
    """The schedules that get an estimate: recommended, enough, and those the plan compares, each once."""
    named = (advice.recommended, advice.enough, *advice.compared)
    found: dict[object, RatedChoice] = {}
    for choice in named:
        if choice is not None:
            found.setdefault(choice.schedule, choice)
    return tuple(found.values())


def price_answer(
    advice: Recommendation,
    table: FoldTable,
    settings: Settings,
    *,
    cost: FloatArray | None,
    cost_of: Callable[[Schedule], float | None] = lambda _: None,
    estimates: tuple[Estimate, ...],
    alternatives: tuple[Alternative, ...] = (),
    risk: Risk | None = None,
    without_ready_by: Programme | None = None,
) -> PriceAnswer:
    """Put the answer together.

    Parameters
    ----------
    cost
        Of every schedule of the table, ``(n_choices,)``; None without prices.
    cost_of
        What the calibration costs with a schedule, all trial batches; None without prices.
    """
    points = frontier_along(table, table.choices.n_specimens.astype(np.float64), cost=cost)
    own = advice.honest.own_batch

    def steps(step: int) -> tuple[SpecimenGain, ...]:
        if own is None:
            return ()
        return specimen_steps(
            table, advice.recommended, step, rms=own.nested_rms, per_age=settings.choices.specimens_per_age,
            most_specimens=settings.budget.specimens // estimates[0].count.n_trial_batches,
            most_cost=settings.budget.cost, cost_of=cost_of,
        )  # fmt: skip

    others = [choice for choice in (*advice.compared, advice.customary) if choice is not None]
    found = (
        []
        if own is None
        else [equality(table, other, advice.recommended, rms=own.nested_rms, points=points) for other in others]
    )
    return PriceAnswer(
        recommendation=advice,
        by_specimens=points,
        by_cost=() if cost is None else frontier_along(table, cost, cost=cost),
        gains=steps(1),
        losses=steps(-1),
        equalities=tuple(item for item in found if item is not None),
        estimates=estimates,
        budget_cost=settings.budget.cost,
        to_fill_in=open_prices(settings.costs, estimates),
        alternatives=alternatives,
        risk=risk,
        ready_by_h=settings.budget.ready_by_h,
        relies_on_records=settings.programme_asked.relies_on_records,
        without_ready_by=without_ready_by,
    )


def open_prices(costs: Costs | None, estimates: Iterable[Estimate]) -> tuple[str, ...]:
    """What is needed but has no price: keys of [costs], and the reader's own names of other prices, told apart."""
    if costs is None:
        return PRICE_KEYS
    items = [item for estimate in estimates for item in estimate.items if item.is_open]
    return tuple(dict.fromkeys(item.key or f'"{item.name}" of [[costs.other]]' for item in items))
