"""The answer to an estimator in sections: what it costs, what the next specimen buys, how others compare."""

from __future__ import annotations

from collections.abc import Iterator

from planner.report.accounts.full_account import basis_section, cautions_section, has_content, target_words
from planner.report.accounts.geometries.geometry_account import geometry_section
from planner.report.accounts.parts.comparison import unbroken_schedule
from planner.report.accounts.parts.drawn_account import headed
from planner.report.accounts.parts.headline_figures import HELD_OUT, later_figures, own_figures
from planner.report.accounts.parts.programme_account import programme_section
from planner.report.accounts.price.estimate_table import estimates_section, visits_words
from planner.report.accounts.price.price_parts_account import (
    alternatives_section,
    programmes_section,
    ready_by_words,
    ready_words,
    risk_section,
    risk_words,
    stages_section,
)
from planner.report.text import words
from planner.report.text.blocks import Block, Bullets, Column, Facts, Paragraph, Section, Table
from planner.terms.labels import age_label, schedule_label
from planner.terms.results.answers import Equality, PriceAnswer, PricePoint, SpecimenGain
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.price_parts import Alternative
from planner.terms.results.programme_count import ACCEPTANCE_LINES, CostPart, Estimate
from planner.terms.results.recommended.recommendation import Recommendation

BAR_WIDTH = 24
NO_PRICES = (
    "No prices are given, so the answer is in specimens. For money fill in [costs] in the plan: currency, {keys}. "
    "Nothing is assumed for you."
)


def price_account(answer: PriceAnswer) -> tuple[Section, ...]:
    """Everything about cost, the answer first."""
    advice = answer.recommendation
    return _present(
        headed(_answer(answer), advice),
        programmes_section(answer),
        alternatives_section(answer),
        geometry_section(advice),
        stages_section(answer),
        risk_section(answer),
        estimates_section(answer.estimates, advice.currency),
        _frontier(answer.by_specimens, advice, heading="Own-batch error against specimens", limit="specimens"),
        _frontier(answer.by_cost, advice, heading="Own-batch error against money", limit="cost"),
        _gains(answer),
        Section("Other schedules", (Bullets(tuple(words.clean(item.sentence) for item in answer.equalities)),)),
        programme_section(advice),
        basis_section(advice),
        cautions_section(advice),
    )


def brief_price_account(answer: PriceAnswer) -> tuple[Section, ...]:
    """What to bid and why, and what else one could buy; nothing that stands here is missing in the full account."""
    more = Section("", (Paragraph("--full: every line of the estimate, risk, days, what it rests on, cautions."),))
    advice = answer.recommendation
    geometries = geometry_section(advice, is_brief=True)
    return _present(headed(_answer(answer), advice), alternatives_section(answer), geometries, more)


def _present(*sections: Section) -> tuple[Section, ...]:
    return tuple(section for section in sections if has_content(section) and section.blocks)


def _answer(answer: PriceAnswer) -> Section:
    advice = answer.recommendation
    facts = [
        ("Know", target_words(advice)),
        ("Bid", _price_words(answer)),
        ("Error", _error_words(advice)),
        ("Next specimen", next_words(answer)),
        *_more_facts(answer),
    ]
    blocks: list[Block] = [Facts(tuple(facts))]
    if advice.sufficiency is not None:
        blocks.append(Paragraph(words.clean(advice.sufficiency.sentence) + _enough_costs(advice), is_strong=True))
    if advice.spending is not None:
        blocks.append(Paragraph(f"Why this row: {words.clean(advice.spending.sentences[0])}"))
    if answer.to_fill_in:
        blocks.append(Paragraph(_fill_in_words(answer)))
    return Section(words.clean(advice.title, limit=120) or "Price", tuple(blocks))


def _more_facts(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    """Lines that not every plan has."""
    advice = answer.recommendation
    yours = next((item for item in answer.equalities if item.label is ChoiceRole.COMPARED), None)
    if yours is not None:
        yield "Your schedule", your_words(yours)
    chosen = answer.estimates[0]
    if chosen.in_all is not None and chosen.total is not None and chosen.in_all > chosen.total:
        yield "In all", f"{words.money(chosen.in_all, advice.currency)} with {_beside_words(chosen)}"
    bid = next((item for item in answer.alternatives if item.is_recommended), None)
    more = [item for item in answer.alternatives if bid and item.n_trial_batches == bid.n_trial_batches + 1]
    if bid is not None and more:
        yield "One batch more", _one_more_words(bid, more[0], advice.currency)
    if answer.risk is not None:
        yield "Risk", risk_words(answer.risk, advice.currency)
    if ready_words(answer):
        yield "Ready", ready_words(answer)
    if answer.ready_by_h is not None:
        yield "Ready by", ready_by_words(answer)
    if answer.budget_cost is not None:
        yield "Money limit", f"{words.money(answer.budget_cost, advice.currency)}; kept"


def _enough_costs(advice: Recommendation) -> str:
    """Fewest specimens and least money need not be one schedule."""
    fewest, taken = advice.enough, advice.recommended
    if fewest is None or fewest.cost is None or taken.cost is None or fewest.schedule == taken.schedule:
        return ""
    return (
        f" Those are {schedule_label(fewest.schedule)} and cost {words.money(fewest.cost, advice.currency)}; the "
        f"recommended {taken.schedule.n_specimens} cost {words.money(taken.cost, advice.currency)}."
    )


def _beside_words(chosen: Estimate) -> str:
    """What the sum of everything holds beside the calibration."""
    names = {item.name for item in chosen.items}
    parts = {
        "the companions of the trial batch": bool(names.intersection(ACCEPTANCE_LINES)),
        "site checks": chosen.count.n_checks > 0,
        "early breaks of the pours": any(item.name.startswith("early breaks") for item in chosen.items),
        "contingency": any(item.part is CostPart.CONTINGENCY for item in chosen.items),
    }
    named = [name for name, is_there in parts.items() if is_there]
    return ", ".join(named) or "nothing beside it"


def _one_more_words(bid: Alternative, more: Alternative, currency: str) -> str:
    extra = "" if more.cost is None or bid.cost is None else f"{words.money(more.cost - bid.cost, currency)} more: "
    beyond = "" if more.is_within_limits else "; beyond the plan's limits"
    return f"{extra}later pour {words.share(bid.later_rms)} to {words.share(more.later_rms)}{beyond}"


def your_words(yours: Equality) -> str:
    """The reader's own schedule against the recommended one, in a line."""
    if yours.n_specimens_needed is None:
        needed = "no number at its ages equals that"
    elif yours.n_specimens_needed <= yours.schedule.n_specimens:
        needed = "it errs no more"
    else:
        needed = f"it needs {yours.n_specimens_needed} specimens to equal that"
    return (
        f"{words.share(yours.rms)} with {yours.schedule.n_specimens} specimens, against "
        f"{words.share(yours.rms_recommended)} recommended: {needed}"
    )


def _price_words(answer: PriceAnswer) -> str:
    advice = answer.recommendation
    chosen = answer.estimates[0]
    head = "" if chosen.total is None else f"{words.money(chosen.total, advice.currency)}: "
    return (
        f"{head}{chosen.schedule.n_specimens} specimens to break, {chosen.count.n_made} to make, "
        f"{visits_words(chosen)} ({schedule_label(chosen.schedule)})"
    )


def _error_words(advice: Recommendation) -> str:
    """The fixed programme's errors, what choosing costs beside them by name, and whether that is good enough."""
    own, later = own_figures(advice), later_figures(advice)
    if own is None:
        return "unknown: with one batch nothing can be held out"
    rms, named = own
    text = f"own batch read {rms} off ({named})"
    if later is None:
        return f"later pour unknown; {text}"
    return f"later pour read {later.rms} off ({later.named}); {later.share} {later.verdict}; {text}"


def next_words(answer: PriceAnswer) -> str:
    """What the best further specimen buys."""
    if not answer.gains:
        return "cannot be said with one batch"
    best = min(answer.gains, key=lambda gain: gain.rms_then)
    money = "" if best.cost is None else f" for {words.money(best.cost, answer.recommendation.currency)} more"
    return f"one more at {age_label(best.age_h)}{money}: {_step_words(best)} own batch, {HELD_OUT}" + (
        "" if best.is_allowed else "; beyond the plan's limits"
    )


def _step_words(gain: SpecimenGain) -> str:
    return f"{_fine(gain.rms_now)} to {_fine(gain.rms_then)} RMS"


def _fine(rms: float) -> str:
    return f"{100 * rms:.2f} %"


def _fill_in_words(answer: PriceAnswer) -> str:
    keys = ", ".join(answer.to_fill_in)
    if answer.estimates[0].total is None:
        return NO_PRICES.format(keys=keys)
    return f"Without a price and so not in any sum: {keys}. Fill them in under [costs] in the plan."


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


def _gains(answer: PriceAnswer) -> Section:
    """What one more specimen buys at each age of the recommended schedule."""
    if not answer.gains:
        return Section("One more specimen", ())
    has_money = any(gain.cost is not None for gain in answer.gains)
    columns = (
        Column(heading="one more at"),
        Column(heading="now", is_number=True),
        Column(heading="RMS error now", is_number=True),
        Column(heading="then", is_number=True),
        *((Column(heading="costs", is_number=True),) if has_money else ()),
        Column(heading="within the plan's limits"),
    )
    rows = tuple(
        (
            age_label(gain.age_h),
            str(gain.n_now),
            _fine(gain.rms_now),
            _fine(gain.rms_then),
            *((words.money(gain.cost, answer.recommendation.currency),) if has_money else ()),
            "yes" if gain.is_allowed else "no",
        )
        for gain in answer.gains
    )
    note = "Own batch, with the choosing held out. What further specimens cannot lower is curve and batch."
    return Section("One more specimen in the recommended schedule", (Table(columns=columns, rows=rows, note=note),))
