"""A calibration priced item by item, so that it adds up by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from planner.laboratory.casting.casting_hours import CastingAdvice, best_casting
from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.quantities.programme_totals import whole_programme
from planner.terms.labels import percent
from planner.terms.plan.early_breaks import PourBreaks
from planner.terms.plan.settings import CostBasis, Costs, Laboratory, OtherCost, ProgrammeSettings
from planner.terms.results.programme_count import (
    ACCEPTANCE,
    ACCEPTANCE_LINES,
    ACCEPTANCE_VISITS,
    CASTING,
    CASTING_OUTSIDE,
    CostItem,
    CostPart,
    Estimate,
    ProgrammeCount,
)
from planner.terms.schedule import Schedule

INSIDE, OUTSIDE_HOURS = "visits inside laboratory hours", "visits outside laboratory hours"


def itemise(
    schedule: Schedule,
    costs: Costs,
    programme: ProgrammeSettings,
    laboratory: Laboratory | None = None,
    castings: Sequence[CastingAdvice | BreakTimes] = (),
    *,
    n_targets: int = 0,
    pour_breaks: PourBreaks | None = None,
) -> tuple[CostItem, ...]:
    """Price a schedule line by line.

    Parameters
    ----------
    schedule
        Ages with their specimens, for one trial batch.
    costs
        Unit prices; one left out leaves its line open.
    programme
        What is made beyond the schedule. Trial batches multiply every line of the calibration but what is paid once.
    laboratory
        None: always open, one attendance a calendar day.
    castings
        Whose attendances are priced, one for every trial batch or the same for all; none: the cheapest casting time.
    n_targets
        Ages at which companions of every trial batch are broken on site, each with an attendance.
    pour_breaks
        What the later pours break before they are read; None: nothing, or nobody said of how many pours.

    Returns
    -------
    tuple
        Lines of the calibration, then of the checks and pours, the contingency last.
    """
    named = castings or (best_casting(schedule, laboratory or Laboratory(), costs),)
    count = whole_programme(schedule, programme, within_test_cv=0.0, n_targets=n_targets)
    n_batches = count.n_trial_batches
    cast = named if len(named) == n_batches else (named[0],) * n_batches
    items = [
        *_of_calibration(count, costs, cast),
        *_other(count, costs, n_visits=sum(times.n_visits for times in cast)),
        *_of_checks_and_pours(count, costs, programme, n_targets=n_targets, pour_breaks=pour_breaks),
    ]
    if costs.contingency:
        name = f"contingency, {percent(costs.contingency)} of all the above"
        items.append(_line(name, costs.contingency, total_cost(items), CostPart.CONTINGENCY))
    return tuple(items)


def _line(name: str, quantity: float, price: float, part: CostPart = CostPart.CALIBRATION) -> CostItem:
    return CostItem(name=name, quantity=quantity, unit_price=price, amount=quantity * price, part=part)


def _of_calibration(count: ProgrammeCount, costs: Costs, cast: Sequence[CastingAdvice | BreakTimes]) -> list[CostItem]:
    n_batches = count.n_trial_batches
    n_outside = sum(times.n_outside for times in cast)
    is_moulded = not costs.are_ends_prepared and not costs.preparation  # nothing to do, so nothing is open
    n_cast_outside = sum(times.is_casting_outside_hours for times in cast)
    lines = [
        _line("specimens made", count.n_of_curve, costs.specimen),
        *([] if is_moulded else [_line("end preparation", count.n_schedule, costs.preparation)]),
        _line("breaking", count.n_schedule, costs.break_one),
        _line(INSIDE, sum(times.n_visits for times in cast) - n_outside, costs.visit),
        _line(OUTSIDE_HOURS, n_outside, costs.visit_outside_hours),
        _line("instrumented specimens", count.n_instrumented, costs.instrumented),
        _line("fixed, for each trial batch", n_batches, costs.fixed),
    ]
    castings = (
        _line(CASTING, n_batches - n_cast_outside, costs.of_casting(is_outside_hours=False)),
        _line(CASTING_OUTSIDE, n_cast_outside, costs.of_casting(is_outside_hours=True)),
    )
    return lines + [line for line in castings if line.quantity or line.unit_price]


def _other(count: ProgrammeCount, costs: Costs, *, n_visits: int) -> list[CostItem]:
    """What the plan names beside the usual prices; litres without a geometry stay open."""
    n_batches = count.n_trial_batches
    quantity: dict[CostBasis, float] = {
        "programme": 1,
        "batch": n_batches,
        "specimen": count.n_of_curve,
        "visit": n_visits,
        "litre": count.n_of_curve * (costs.litres_each or 0.0),
    }
    return [_other_line(item, quantity[item.per], is_untold=costs.litres_each is None) for item in costs.other]


def _other_line(item: OtherCost, quantity: float, *, is_untold: bool) -> CostItem:
    return CostItem(
        name=f"{item.name}, for each {item.per}" if item.per != "programme" else item.name,
        quantity=quantity,
        unit_price=item.amount,
        amount=quantity * item.amount,
        is_per_visit=item.per == "visit",
        is_untold=is_untold and item.per == "litre",
    )


def _of_checks_and_pours(
    count: ProgrammeCount,
    costs: Costs,
    programme: ProgrammeSettings,
    *,
    n_targets: int,
    pour_breaks: PourBreaks | None,
) -> list[CostItem]:
    """What the money limit does not hold for; lines that nothing is needed of are left out."""
    each = costs.specimen + costs.preparation + costs.break_one
    of_trial = each + costs.other_each_specimen
    n_acceptance_visits = count.n_trial_batches * n_targets if programme.companions_per_check else 0
    beside = CostPart.CHECKS_AND_POURS
    lines = [
        _line(ACCEPTANCE, count.n_acceptance, of_trial, beside),
        _line(ACCEPTANCE_VISITS, n_acceptance_visits, costs.of_check_visit, beside),
        _line("companions of site checks, made and broken", count.n_companions, each, beside),
        _line("visits of site checks", count.n_checks, costs.of_check_visit, beside),
    ]  # fmt: skip
    if pour_breaks is not None:
        name = f"early breaks of {pour_breaks.n_pours} pours"
        lines.append(_line(name, pour_breaks.n_pours * pour_breaks.n_specimens, costs.of_pour_break, beside))
    return [line for line in lines if line.quantity]


def cost_when_cast(estimate: Estimate, times: BreakTimes) -> float | None:
    """The calibration's sum with the attendances of this casting, for every trial batch; None without prices."""
    if estimate.total is None:
        return None
    n_batches = estimate.count.n_trial_batches
    visits = {
        INSIDE: times.n_visits - times.n_outside,
        OUTSIDE_HOURS: times.n_outside,
        CASTING: int(not times.is_casting_outside_hours),
        CASTING_OUTSIDE: int(times.is_casting_outside_hours),
    }
    total = 0.0
    for item in estimate.items:
        if item.part is CostPart.CALIBRATION:
            n_visits = times.n_visits if item.is_per_visit else visits.get(item.name)
            total += item.amount if n_visits is None else item.unit_price * n_batches * n_visits
    return total


def attempt_cost(estimate: Estimate, costs: Costs | None) -> tuple[float | None, float]:
    """What one trial batch costs with its acceptance, and what is paid once; (None, 0) without prices."""
    if costs is None or estimate.total is None:
        return None, 0.0
    once = costs.other_per("programme")
    acceptance = sum(
        item.amount
        for item in estimate.items
        if item.part is CostPart.CHECKS_AND_POURS and item.name in ACCEPTANCE_LINES
    )
    return (estimate.total - once + acceptance) / estimate.count.n_trial_batches, once


def calibration_cost(items: Iterable[CostItem]) -> float:
    """Sum of the lines that the money limit holds for."""
    return sum(item.amount for item in items if item.part is CostPart.CALIBRATION)


def total_cost(items: Iterable[CostItem]) -> float:
    """Sum of the lines; open ones add nothing."""
    return sum(item.amount for item in items)


def open_items(items: Iterable[CostItem]) -> tuple[str, ...]:
    """Names of the lines that are needed but have no price."""
    return tuple(item.name for item in items if item.is_open)
