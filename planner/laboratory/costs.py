"""A calibration priced item by item, so that it adds up by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from planner.laboratory.break_times import BreakTimes
from planner.laboratory.casting_hours import CastingAdvice, best_casting
from planner.laboratory.programme_totals import whole_programme
from planner.terms.plan.settings import Costs, Laboratory, ProgrammeSettings
from planner.terms.results.programme_count import CostItem, Estimate
from planner.terms.schedule import Schedule

INSIDE, OUTSIDE_HOURS = "visits inside laboratory hours", "visits outside laboratory hours"
CASTING, CASTING_OUTSIDE = "casting inside laboratory hours", "casting outside laboratory hours"


def itemise(
    schedule: Schedule,
    costs: Costs,
    programme: ProgrammeSettings,
    laboratory: Laboratory | None = None,
    castings: Sequence[CastingAdvice | BreakTimes] = (),
) -> tuple[CostItem, ...]:
    """Price a schedule line by line.

    Parameters
    ----------
    schedule
        Ages with their specimens, for one trial batch.
    costs
        Unit prices; one left out leaves its line open.
    programme
        What is made beyond the schedule. Trial batches multiply every line but the site checks'
        companions, which come from the pours; the attendances of site checks are not foreseen.
    laboratory
        None: always open, one attendance a calendar day.
    castings
        Whose attendances are priced, one for every trial batch or the same for all; none: the cheapest casting time.
    """
    named = castings or (best_casting(schedule, laboratory or Laboratory(), costs),)
    count = whole_programme(schedule, programme, within_test_cv=0.0)
    n_batches = count.n_trial_batches
    cast = named if len(named) == n_batches else (named[0],) * n_batches
    n_outside = sum(times.n_outside for times in cast)
    n_late = sum(times.is_casting_outside_hours for times in cast)
    lines = (
        ("specimens made", count.n_made, costs.specimen),
        ("end preparation", count.n_broken, costs.preparation),
        ("breaking", count.n_broken, costs.break_one),
        (INSIDE, sum(times.n_visits for times in cast) - n_outside, costs.visit),
        (OUTSIDE_HOURS, n_outside, costs.visit_outside_hours),
        ("instrumented specimens", count.n_instrumented, costs.instrumented),
        ("fixed, for each trial batch", n_batches, costs.fixed),
        (CASTING, n_batches - n_late, costs.of_casting(is_outside_hours=False)),
        (CASTING_OUTSIDE, n_late, costs.of_casting(is_outside_hours=True)),
    )
    return tuple(
        CostItem(name=name, quantity=quantity, unit_price=price, amount=quantity * price)
        for name, quantity, price in lines
        if name not in (CASTING, CASTING_OUTSIDE) or price > 0
    )


def cost_when_cast(estimate: Estimate, times: BreakTimes) -> float | None:
    """The estimate's sum with the attendances of this casting, for every trial batch; None without prices."""
    if estimate.total is None:
        return None
    n_batches = estimate.count.n_trial_batches
    visits = {
        INSIDE: times.n_visits - times.n_outside,
        OUTSIDE_HOURS: times.n_outside,
        CASTING: int(not times.is_casting_outside_hours),
        CASTING_OUTSIDE: int(times.is_casting_outside_hours),
    }
    return sum(
        item.unit_price * n_batches * visits[item.name] if item.name in visits else item.amount
        for item in estimate.items
    )


def total_cost(items: Iterable[CostItem]) -> float:
    """Sum of the lines; open ones add nothing."""
    return sum(item.amount for item in items)


def open_items(items: Iterable[CostItem]) -> tuple[str, ...]:
    """Names of the lines that are needed but have no price."""
    return tuple(item.name for item in items if item.is_open)
