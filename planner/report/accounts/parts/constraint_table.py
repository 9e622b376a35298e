"""What each constraint of the plan asks for, as a table."""

from __future__ import annotations

from planner.report.text import words
from planner.report.text.blocks import Column, Table
from planner.terms.labels import percent
from planner.terms.results.minimum.minimum_figures import ConstraintPrice
from planner.terms.results.recommended.recommendation import Recommendation

NOISE = 0.0005  # error differences below 0.05 % are written as none


def constraint_table(constraints: tuple[ConstraintPrice, ...], advice: Recommendation) -> Table:
    """A row a constraint: the lowest error under it, the fewest specimens, and what it adds to error and cost."""
    has_cost = any(item.cost_more is not None for item in constraints)
    columns = (
        Column(heading="constraint"),
        Column(heading="lowest error", is_number=True),
        Column(heading="more than without", is_number=True),
        Column(heading="fewest specimens", is_number=True),
        Column(heading="more", is_number=True),
        *((Column(heading="cost it adds", is_number=True),) if has_cost else ()),
    )
    rows = tuple(
        (
            item.name,
            "cannot be kept" if item.rms is None else percent(item.rms),
            _added(item),
            words.NONE if item.fewest_specimens is None else str(item.fewest_specimens),
            words.NONE if item.specimens_more is None else f"{item.specimens_more:+d}".replace("+0", "0"),
            *((_cost_cell(item, advice),) if has_cost else ()),
        )
        for item in constraints
    )
    note = (
        "lowest error: of the allowed programmes, judged, held out, the best of many. fewest specimens, cost it "
        "adds: of "
        "what keeps the target, - where nothing does. A constraint that costs nothing can be kept at some casting hour."
    )
    return Table(columns=columns, rows=rows, note=note)


def _cost_cell(item: ConstraintPrice, advice: Recommendation) -> str:
    if item.cost_more is None:
        return words.NONE
    sign = "+" if item.cost_more > 0 else ""
    return sign + words.money(item.cost_more, advice.currency)


def _added(item: ConstraintPrice) -> str:
    if item.rms_more is None:
        return words.NONE
    return "none seen" if item.rms_more < NOISE else words.share(item.rms_more, is_signed=True)
