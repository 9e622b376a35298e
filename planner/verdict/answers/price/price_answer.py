"""The answer to an estimator: frontiers, gains, equalities and estimates in one frozen value."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Costs, Settings
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.price_parts import Alternative, Risk
from planner.terms.results.programme_count import Estimate
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.answers.price.pricing import equality, frontier_along, specimen_gains
from planner.verdict.validation.restricted import FoldTable

PRICE_KEYS = (
    ("specimen", "specimen"),
    ("preparation", "preparation"),
    ("break", "break_one"),
    ("visit", "visit"),
    ("visit_outside_hours", "visit_outside_hours"),
    ("instrumented", "instrumented"),
    ("fixed", "fixed"),
    ("casting", "casting"),
)  # key of [costs], field


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
        gains=()
        if own is None
        else specimen_gains(
            table,
            advice.recommended,
            rms=own.nested_rms,
            most_per_age=settings.choices.specimens_per_age[1],
            budget=settings.budget.specimens,
            cost_of=cost_of,
        ),
        equalities=tuple(item for item in found if item is not None),
        estimates=estimates,
        budget_cost=settings.budget.cost,
        to_fill_in=open_prices(settings.costs),
        alternatives=alternatives,
        risk=risk,
        ready_by_h=settings.budget.ready_by_h,
        without_ready_by=without_ready_by,
    )


def open_prices(costs: Costs | None) -> tuple[str, ...]:
    """Keys of [costs] without a price."""
    keys = tuple(key for key, name in PRICE_KEYS if costs is None or getattr(costs, name) == 0)
    are_moulded = costs is not None and not costs.are_ends_prepared
    return tuple(key for key in keys if not (are_moulded and key == "preparation"))
