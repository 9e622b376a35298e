"""Tables of error against specimens and money, and of one specimen more or less in the recommended schedule."""

from __future__ import annotations

from planner.report.accounts.parts.comparison import unbroken_schedule
from planner.report.text import words
from planner.report.text.blocks import Block, Column, Paragraph, Section, Table
from planner.terms.labels import age_label
from planner.terms.results.answers import PriceAnswer, PricePoint
from planner.terms.results.recommended.recommendation import Recommendation

BAR_WIDTH = 24


def frontier_sections(answer: PriceAnswer) -> tuple[Section, Section]:
    """Own-batch error against specimens, and against money."""
    advice = answer.recommendation
    by_specimens = _frontier(
        answer.by_specimens, advice, heading="Own-batch error against specimens", limit="specimens"
    )
    by_cost = _frontier(answer.by_cost, advice, heading="Own-batch error against money", limit="cost")
    return by_specimens, by_cost


def _frontier(points: tuple[PricePoint, ...], advice: Recommendation, *, heading: str, limit: str) -> Section:
    """One row for each schedule on the frontier; the bar is the error."""
    if not points:
        return Section(heading, ())
    has_cost = any(point.cost is not None for point in points)
    widest = max(point.rms for point in points)
    columns = (
        Column(heading="cost" if limit == "cost" else "n", is_number=True),
        Column(heading="RMS error", is_number=True),
        Column(heading="", is_wide_only=True),
        Column(heading="inside", is_number=True),
        Column(heading="later pour", is_number=True),
        *((Column(heading="n" if limit == "cost" else "cost", is_number=True),) if has_cost else ()),
        Column(heading="best schedule within that"),
    )
    rows = tuple(
        (
            *_first_cells(point, advice, limit),
            "#" * max(1, round(BAR_WIDTH * point.rms / widest)) if widest > 0 else "",
            words.whole_share(point.within_tolerance),
            words.share(point.later_rms),
            *((_second_cell(point, advice, limit),) if has_cost else ()),
            unbroken_schedule(point.schedule),
        )
        for point in steps_down(points)
    )
    note = (
        "RMS error: of the lowest-scoring schedule within the limit on a batch that had no say in choosing it, own "
        "curve; where more seemed to do worse neighbours are pooled, so it never rises. inside: share of such "
        f"batches within {words.share(advice.tolerance)}, not pooled. later pour: the same curve on a later pour. "
        f"The recommended schedule is the cheapest that {_taken_for(advice)}; fewer specimens may read no "
        "worse here by "
        "luck. Specimens and money pool different neighbours: one schedule may read a little "
        "differently in the two tables."
    )
    blocks: list[Block] = [Table(columns=columns, rows=rows, note=note)]
    last = steps_down(points)[-1]
    if last.limit < points[-1].limit:
        spent = words.money(last.cost, advice.currency) if limit == "cost" else f"{last.n_specimens} specimens"
        most = words.money(points[-1].cost, advice.currency) if limit == "cost" else str(points[-1].n_specimens)
        blocks.append(Paragraph(f"Beyond {spent}, up to {most}, these records show no lower error."))
    return Section(heading, tuple(blocks))


def _taken_for(advice: Recommendation) -> str:
    is_enough = advice.spending is not None and advice.spending.is_enough
    return "is good enough" if is_enough else "these records cannot tell from the best"


def steps_down(points: tuple[PricePoint, ...]) -> tuple[PricePoint, ...]:
    """The points at which the error falls: what is between them costs more and shows no gain."""
    kept = list(points[:1])
    for point in points[1:]:
        if words.share(point.rms) != words.share(kept[-1].rms):
            kept.append(point)
    return tuple(kept)


def _first_cells(point: PricePoint, advice: Recommendation, limit: str) -> tuple[str, str]:
    first = words.money(point.cost, advice.currency) if limit == "cost" else str(point.n_specimens)
    return first, words.share(point.rms)


def _second_cell(point: PricePoint, advice: Recommendation, limit: str) -> str:
    return str(point.n_specimens) if limit == "cost" else words.money(point.cost, advice.currency)


def steps_section(answer: PriceAnswer) -> Section:
    """What one specimen more or less at each age of the recommended schedule does."""
    heading = "One specimen more or less in the recommended schedule"
    if not answer.gains:
        return Section(heading, ())
    has_money = any(step.cost is not None for step in answer.gains)
    columns = (
        Column(heading="change"),
        Column(heading="now", is_number=True),
        Column(heading="RMS error now", is_number=True),
        Column(heading="then", is_number=True),
        *((Column(heading="costs", is_number=True),) if has_money else ()),
        Column(heading="within the plan's limits"),
    )
    steps = [("one more", step) for step in answer.gains] + [("one less", step) for step in answer.losses]
    rows = tuple(
        (
            f"{change} at {age_label(step.age_h)}",
            str(step.n_now),
            fine_share(step.rms_now),
            fine_share(step.rms_then),
            *((words.money(step.cost, answer.recommendation.currency),) if has_money else ()),
            "yes" if step.is_allowed else "no",
        )
        for change, step in steps
    )
    note = (
        "In every trial batch. Own batch, with the choosing held out. What further specimens cannot lower is curve and "
        "batch."
    )
    return Section(heading, (Table(columns=columns, rows=rows, note=note),))


def fine_share(rms: float) -> str:
    """Two decimals: what one specimen changes."""
    return f"{100 * rms:.2f} %"
