"""A calibration priced item by item, so that it adds up by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from planner.laboratory.casting.casting_hours import CastingAdvice, best_casting
from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.opening_hours import without_dates
from planner.laboratory.quantities.programme_totals import whole_programme
from planner.terms.labels import percent
from planner.terms.plan.early_breaks import PourBreaks
from planner.terms.plan.settings import CostBasis, Costs, Laboratory, OtherCost, ProgrammeSettings
from planner.terms.results.programme_count import (
    ACCEPTANCE,
    ACCEPTANCE_LINES,
    ACCEPTANCE_VISITS,
    ACCEPTANCE_VISITS_OUTSIDE,
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
    targets_h: tuple[float, ...] = (),
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
        Whose attendances are priced, in order; trial batches beyond them are priced as the last. None: the cheapest
        casting time.
    targets_h
        Ages at which companions of every trial batch are broken, with attendances of their own [h].
    pour_breaks
        What the later pours break before they are read; None: nothing, or nobody said of how many pours.

    Returns
    -------
    tuple
        Lines of the calibration, then of the checks and pours, the contingency last.
    """
    hours = laboratory or Laboratory()
    named = castings or (best_casting(schedule, hours, costs),)
    count = whole_programme(schedule, programme, within_test_cv=0.0, n_targets=len(targets_h))
    cast = tuple(named[min(place, len(named) - 1)] for place in range(count.n_trial_batches))
    items = [
        *_of_calibration(count, costs, cast),
        *_other(count, costs, n_visits=sum(times.n_visits for times in cast)),
        *_of_acceptance(count, costs, companions_visits(cast, targets_h, programme.companions_per_check, hours)),
        *_of_checks_and_pours(count, costs, pour_breaks),
    ]
    if costs.contingency:
        name = f"contingency, {percent(costs.contingency)} of all the above"
        items.append(_line(name, costs.contingency, total_cost(items), "contingency", CostPart.CONTINGENCY))
    return tuple(items)


def _line(name: str, quantity: float, price: float, key: str = "", part: CostPart = CostPart.CALIBRATION) -> CostItem:
    return CostItem(name=name, quantity=quantity, unit_price=price, amount=quantity * price, key=key, part=part)


def _beside(name: str, quantity: float, price: float, key: str = "") -> CostItem:
    return _line(name, quantity, price, key, CostPart.CHECKS_AND_POURS)


def _of_calibration(count: ProgrammeCount, costs: Costs, cast: Sequence[CastingAdvice | BreakTimes]) -> list[CostItem]:
    n_batches = count.n_trial_batches
    n_outside = sum(times.n_outside for times in cast)
    is_moulded = not costs.are_ends_prepared and not costs.preparation  # nothing to do, so nothing is open
    n_cast_outside = sum(times.is_casting_outside_hours for times in cast)
    lines = [
        _line("specimens made", count.n_of_curve, costs.specimen, "specimen"),
        *([] if is_moulded else [_line("end preparation", count.n_schedule, costs.preparation, "preparation")]),
        _line("breaking", count.n_schedule, costs.break_one, "break"),
        _line(INSIDE, sum(times.n_visits for times in cast) - n_outside, costs.visit, "visit"),
        _line(OUTSIDE_HOURS, n_outside, costs.visit_outside_hours, "visit_outside_hours"),
        _line("instrumented specimens", count.n_instrumented, costs.instrumented, "instrumented"),
        _line("fixed, for each trial batch", n_batches, costs.fixed, "fixed"),
    ]
    late = "casting" if costs.casting_outside_hours is None else "casting_outside_hours"
    castings = (
        _line(CASTING, n_batches - n_cast_outside, costs.of_casting(is_outside_hours=False), "casting"),
        _line(CASTING_OUTSIDE, n_cast_outside, costs.of_casting(is_outside_hours=True), late),
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


def companions_visits(
    cast: Iterable[CastingAdvice | BreakTimes], targets_h: tuple[float, ...], n_each: int, laboratory: Laboratory
) -> tuple[int, int]:
    """Attendances to break the companions of all trial batches: inside laboratory hours, and outside them."""
    if not targets_h or not n_each:
        return 0, 0
    ages_h = tuple(dict.fromkeys(targets_h))  # two strengths may be reached at one age
    schedule = Schedule(ages_h, (n_each,) * len(ages_h))
    n_inside = n_outside = 0
    for times in cast:
        week = laboratory if isinstance(times, BreakTimes) or times.is_dated else without_dates(laboratory)
        found = best_casting(schedule, week, None, (times.cast_at, times.cast_at))
        n_inside += found.n_visits - found.n_outside
        n_outside += found.n_outside
    return n_inside, n_outside


def _of_acceptance(count: ProgrammeCount, costs: Costs, n_visits: tuple[int, int]) -> list[CostItem]:
    """Companions by which the trial batches are accepted; lines that nothing is needed of are left out."""
    each = costs.specimen + costs.preparation + costs.break_one + costs.other_each_specimen
    n_inside, n_outside = n_visits
    late = costs.visit_outside_hours + costs.other_per("visit")
    lines = [
        _beside(ACCEPTANCE, count.n_acceptance, each),
        _beside(ACCEPTANCE_VISITS, n_inside, costs.of_companions_visit, costs.key_of_check_visit),
        _beside(ACCEPTANCE_VISITS_OUTSIDE, n_outside, late, "visit_outside_hours"),
    ]
    return [line for line in lines if line.quantity]


def _of_checks_and_pours(count: ProgrammeCount, costs: Costs, pour_breaks: PourBreaks | None) -> list[CostItem]:
    """What comes after the calibration; lines that nothing is needed of are left out."""
    each = costs.specimen + costs.preparation + costs.break_one
    lines = [
        _beside("companions of site checks, made and broken", count.n_companions, each),
        _beside("visits of site checks", count.n_checks, costs.of_check_visit, costs.key_of_check_visit),
    ]
    if pour_breaks is not None:
        n_broken = pour_breaks.n_pours * pour_breaks.n_specimens
        name = f"early breaks of {pour_breaks.n_pours} pours"
        if costs.pour_break is None:
            name = f"early breaks of {pour_breaks.n_pours} pours, their visits not priced"
        lines.append(_beside(name, n_broken, costs.of_pour_break, "pour_break"))
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
