"""What the lines of an estimate are called, on every screen and in every sheet."""

from __future__ import annotations

from planner.terms.labels import percent
from planner.terms.plan.settings import OtherCost
from planner.terms.results.cost_item import CostKind

NAMES = {
    CostKind.SPECIMENS: "specimens made",
    CostKind.PREPARATION: "end preparation",
    CostKind.BREAKS: "breaking",
    CostKind.VISITS: "visits inside laboratory hours",
    CostKind.VISITS_OUTSIDE_HOURS: "visits outside laboratory hours",
    CostKind.INSTRUMENTED: "instrumented specimens",
    CostKind.FIXED: "fixed, for each trial batch",
    CostKind.CASTING: "casting inside laboratory hours",
    CostKind.CASTING_OUTSIDE_HOURS: "casting outside laboratory hours",
    CostKind.ACCEPTANCE: "companions of the trial batch, made and broken",
    CostKind.ACCEPTANCE_VISITS: "visits to break them",
    CostKind.ACCEPTANCE_VISITS_OUTSIDE_HOURS: "visits to break them outside laboratory hours",
    CostKind.SITE_CHECKS: "companions of site checks, made and broken",
    CostKind.SITE_CHECK_VISITS: "visits of site checks",
}


def pour_breaks_name(n_pours: int, *, has_visits: bool) -> str:
    """Early breaks; where no price of their own is stated, the sum of the others holds no visits."""
    return f"early breaks of {n_pours} pours" + ("" if has_visits else ", their visits not priced")


def contingency_name(share: float) -> str:
    return f"contingency, {percent(share)} of all the above"


def other_name(item: OtherCost) -> str:
    """The reader's own name, with what the price is for."""
    return item.name if item.per == "programme" else f"{item.name}, for each {item.per}"
