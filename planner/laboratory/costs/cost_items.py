"""A calibration priced item by item, so that it adds up by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from planner.laboratory.casting.best_casting import CastingAdvice, best_casting, companions_schedule
from planner.laboratory.clock.break_slots import BreakTimes
from planner.laboratory.clock.opening_hours import without_dates
from planner.laboratory.costs.cost_sums import total_cost
from planner.laboratory.costs.line_words import NAMES, contingency_name, other_name, pour_breaks_name
from planner.laboratory.quantities.programme_totals import whole_programme
from planner.terms.plan.early_breaks import PourBreaks
from planner.terms.plan.settings import CostBasis, Costs, Laboratory, OtherCost, ProgrammeSettings
from planner.terms.results.cost_item import CostItem, CostKind, CostPart
from planner.terms.results.programme_count import ProgrammeCount
from planner.terms.schedule import Schedule


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
    companions = companions_schedule(targets_h, programme.companions_per_check)
    named = castings or (best_casting(schedule, hours, costs, companions=companions),)
    count = whole_programme(schedule, programme, within_test_cv=0.0, n_targets=len(targets_h))
    cast = tuple(named[min(place, len(named) - 1)] for place in range(count.n_trial_batches))
    items = [
        *_of_calibration(count, costs, cast),
        *_other(count, costs, n_visits=sum(times.n_visits for times in cast)),
        *_of_acceptance(count, costs, companions_visits(cast, companions, hours)),
        *_of_checks_and_pours(count, costs, pour_breaks),
    ]
    if costs.contingency:
        name = contingency_name(costs.contingency)
        kind, part = CostKind.CONTINGENCY, CostPart.CONTINGENCY
        items.append(_line(kind, costs.contingency, total_cost(items), "contingency", part, name))
    return tuple(items)


def _line(
    kind: CostKind, quantity: float, price: float, key: str = "", part: CostPart = CostPart.CALIBRATION, name: str = ""
) -> CostItem:
    return CostItem(
        kind=kind,
        name=name or NAMES[kind],
        quantity=quantity,
        unit_price=price,
        amount=quantity * price,
        key=key,
        part=part,
    )


def _beside(kind: CostKind, quantity: float, price: float, key: str = "", name: str = "") -> CostItem:
    return _line(kind, quantity, price, key, CostPart.CHECKS_AND_POURS, name)


def _of_calibration(count: ProgrammeCount, costs: Costs, cast: Sequence[CastingAdvice | BreakTimes]) -> list[CostItem]:
    n_batches = count.n_trial_batches
    n_outside = sum(times.n_outside for times in cast)
    n_inside = sum(times.n_visits for times in cast) - n_outside
    is_moulded = not costs.are_ends_prepared and not costs.preparation  # nothing to do, so nothing is open
    ends = _line(CostKind.PREPARATION, count.n_schedule, costs.preparation, "preparation")
    n_cast_outside = sum(times.is_casting_outside_hours for times in cast)
    lines = [
        _line(CostKind.SPECIMENS, count.n_of_curve, costs.specimen, "specimen"),
        *([] if is_moulded else [ends]),
        _line(CostKind.BREAKS, count.n_schedule, costs.break_one, "break"),
        _line(CostKind.VISITS, n_inside, costs.visit, "visit"),
        _line(CostKind.VISITS_OUTSIDE_HOURS, n_outside, costs.visit_outside_hours, "visit_outside_hours"),
        _line(CostKind.INSTRUMENTED, count.n_instrumented, costs.instrumented, "instrumented"),
        _line(CostKind.FIXED, n_batches, costs.fixed, "fixed"),
    ]
    late = "casting" if costs.casting_outside_hours is None else "casting_outside_hours"
    late_price = costs.of_casting(is_outside_hours=True)
    castings = (
        _line(CostKind.CASTING, n_batches - n_cast_outside, costs.of_casting(is_outside_hours=False), "casting"),
        _line(CostKind.CASTING_OUTSIDE_HOURS, n_cast_outside, late_price, late),
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
        kind=CostKind.OTHER_PER_VISIT if item.per == "visit" else CostKind.OTHER,
        name=other_name(item),
        quantity=quantity,
        unit_price=item.amount,
        amount=quantity * item.amount,
        is_untold=is_untold and item.per == "litre",
    )


def companions_visits(
    cast: Iterable[CastingAdvice | BreakTimes], companions: Schedule | None, laboratory: Laboratory
) -> tuple[int, int]:
    """Attendances to break the companions of all trial batches: inside laboratory hours, and outside them."""
    if companions is None:
        return 0, 0
    n_inside = n_outside = 0
    for times in cast:
        week = laboratory if isinstance(times, BreakTimes) or times.is_dated else without_dates(laboratory)
        found = best_casting(companions, week, None, (times.cast_at, times.cast_at))
        n_inside += found.n_visits - found.n_outside
        n_outside += found.n_outside
    return n_inside, n_outside


def _of_acceptance(count: ProgrammeCount, costs: Costs, n_visits: tuple[int, int]) -> list[CostItem]:
    """Companions by which the trial batches are accepted; lines that nothing is needed of are left out."""
    each = costs.specimen + costs.preparation + costs.break_one + costs.other_each_specimen
    n_inside, n_outside = n_visits
    late = costs.visit_outside_hours + costs.other_per("visit")
    lines = [
        _beside(CostKind.ACCEPTANCE, count.n_acceptance, each),
        _beside(CostKind.ACCEPTANCE_VISITS, n_inside, costs.of_companions_visit, costs.key_of_check_visit),
        _beside(CostKind.ACCEPTANCE_VISITS_OUTSIDE_HOURS, n_outside, late, "visit_outside_hours"),
    ]
    return [line for line in lines if line.quantity]


def _of_checks_and_pours(count: ProgrammeCount, costs: Costs, pour_breaks: PourBreaks | None) -> list[CostItem]:
    """What comes after the calibration; lines that nothing is needed of are left out."""
    each = costs.specimen + costs.preparation + costs.break_one
    lines = [
        _beside(CostKind.SITE_CHECKS, count.n_companions, each),
        _beside(CostKind.SITE_CHECK_VISITS, count.n_checks, costs.of_check_visit, costs.key_of_check_visit),
    ]
    if pour_breaks is not None:
        n_broken = pour_breaks.n_pours * pour_breaks.n_specimens
        name = pour_breaks_name(pour_breaks.n_pours, has_visits=costs.pour_break is not None)
        lines.append(_beside(CostKind.POUR_BREAKS, n_broken, costs.of_pour_break, "pour_break", name))
    return [line for line in lines if line.quantity]
