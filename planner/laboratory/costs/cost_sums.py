"""Sums over the lines of an estimate: what a limit holds for, what another casting or one more attempt would cost."""

from __future__ import annotations

from collections.abc import Iterable

from planner.laboratory.clock.break_slots import BreakTimes
from planner.terms.plan.settings import Costs
from planner.terms.results.cost_item import CostItem, CostKind, CostPart
from planner.terms.results.programme_count import Estimate


def cost_when_cast(estimate: Estimate, times: BreakTimes) -> float | None:
    """The calibration's sum with the attendances of this casting, for every trial batch; None without prices."""
    if estimate.total is None:
        return None
    n_batches = estimate.count.n_trial_batches
    each = {
        CostKind.VISITS: times.n_visits - times.n_outside,
        CostKind.VISITS_OUTSIDE_HOURS: times.n_outside,
        CostKind.CASTING: int(not times.is_casting_outside_hours),
        CostKind.CASTING_OUTSIDE_HOURS: int(times.is_casting_outside_hours),
        CostKind.OTHER_PER_VISIT: times.n_visits,
    }
    total = 0.0
    for item in estimate.items:
        if item.part is CostPart.CALIBRATION:
            n_each = each.get(item.kind)
            total += item.amount if n_each is None else item.unit_price * n_batches * n_each
    return total


def attempt_cost(estimate: Estimate, costs: Costs | None) -> tuple[float | None, float]:
    """What one trial batch costs with its acceptance, and what is paid once; (None, 0) without prices."""
    if costs is None or estimate.total is None:
        return None, 0.0
    once = costs.other_per("programme")
    acceptance = sum(item.amount for item in estimate.items if item.kind.is_acceptance)
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
