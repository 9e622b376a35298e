"""The answer to an estimator in sections: what it costs, what the next specimen buys, how others compare."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

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
COMPANIONS = "companions of trial batches"
NOT_PRICED = "Without a price and so not in any sum"
NO_PRICES = (
    "No prices are given, so the answer is in specimens. For money fill in [costs] in the plan: currency, {keys}. "
    "Nothing is assumed for you."
)


def price_account(answer: PriceAnswer) -> tuple[Section, ...]:
    """Everything about cost, the answer first."""
    advice = answer.recommendation
    by_specimens = _frontier(
        answer.by_specimens, advice, heading="Own-batch error against specimens", limit="specimens"
    )
    by_cost = _frontier(answer.by_cost, advice, heading="Own-batch error against money", limit="cost")
    return _present(
        headed(_answer(answer), advice),
        _with_open(programmes_section(answer), answer),
        _with_open(alternatives_section(answer), answer),
        _with_open(geometry_section(advice), answer),
        stages_section(answer),
        _with_open(risk_section(answer), answer),
        estimates_section(answer.estimates, advice.currency),
        _with_open(by_specimens, answer),
        _with_open(by_cost, answer),
        _with_open(_steps(answer), answer),
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
    beside = (_with_open(section, answer) for section in (alternatives_section(answer), geometries))
    return _present(headed(_answer(answer), advice), *beside, more)


def _present(*sections: Section) -> tuple[Section, ...]:
    return tuple(section for section in sections if has_content(section) and section.blocks)


def _with_open(section: Section, answer: PriceAnswer) -> Section:
    """A section of sums with what they leave out, where the plan states some prices but not all."""
    if not section.blocks or not answer.to_fill_in or answer.estimates[0].total is None:
        return section
    return replace(section, blocks=(*section.blocks, Paragraph(f"{NOT_PRICED}: {', '.join(answer.to_fill_in)}.")))


def _answer(answer: PriceAnswer) -> Section:
    advice = answer.recommendation
    facts = [
        ("Know", target_words(advice)),
        ("Bid", _bid_words(answer)),
        *_in_all(answer),
        ("Error", _error_words(advice)),
        ("One specimen", specimen_words(answer)),
        *_more_facts(answer),
    ]
    blocks: list[Block] = [Facts(tuple(facts))]
    if advice.spending is not None:
        blocks.append(Paragraph(f"Why this row: {words.clean(advice.spending.sentences[0])}"))
    if advice.sufficiency is not None:
        blocks.append(Paragraph(words.clean(advice.sufficiency.sentence) + _enough_costs(advice), is_strong=True))
    if answer.to_fill_in:
        blocks.append(Paragraph(_fill_in_words(answer)))
    beside = tuple(_facts_beside(answer))
    if beside:
        blocks.append(Facts(beside))
    return Section(words.clean(advice.title, limit=120) or "Price", tuple(blocks))


def _in_all(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    """The sum of everything, where there is more than the calibration, with what the rest is made of."""
    chosen, currency = answer.estimates[0], answer.recommendation.currency
    if chosen.in_all is not None and chosen.total is not None and chosen.in_all > chosen.total:
        yield "In all", f"{words.money(chosen.in_all, currency)} with {_beside_words(chosen)}"


def _more_facts(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    """What an estimator asks next."""
    advice = answer.recommendation
    bid = next((item for item in answer.alternatives if item.is_recommended), None)
    more = [item for item in answer.alternatives if bid and item.n_trial_batches == bid.n_trial_batches + 1]
    if bid is not None and more:
        yield "One batch more", _one_more_words(bid, more[0], advice.currency)
    if answer.risk is not None:
        yield "Repeat", risk_words(answer.risk, advice.currency)
    if ready_words(answer):
        yield "Ready", ready_words(answer)
    if answer.ready_by_h is not None:
        yield "Ready by", ready_by_words(answer)
    if answer.budget_cost is not None:
        yield "Money limit", f"{words.money(answer.budget_cost, advice.currency)}; kept"


def _facts_beside(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    """What the reader's own schedule would do."""
    yours = next((item for item in answer.equalities if item.label is ChoiceRole.COMPARED), None)
    if yours is not None:
        yield "Your schedule", your_words(yours)


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
    """What the sum of everything holds beside the calibration, each with its money."""
    parts = {COMPANIONS: 0.0, "site checks": 0.0, "early breaks of pours": 0.0, "contingency": 0.0}
    for item in chosen.items:
        if item.part is CostPart.CONTINGENCY:
            parts["contingency"] += item.amount
        elif item.part is CostPart.CHECKS_AND_POURS:
            is_pours = item.key == "pour_break"
            named = COMPANIONS if item.name in ACCEPTANCE_LINES else "site checks"
            parts["early breaks of pours" if is_pours else named] += item.amount
    return ", ".join(f"{name} {words.money(amount, '')}" for name, amount in parts.items() if amount)


def _one_more_words(bid: Alternative, more: Alternative, currency: str) -> str:
    extra = "" if more.cost is None or bid.cost is None else f"{words.money(more.cost - bid.cost, currency)}: "
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


def _bid_words(answer: PriceAnswer) -> str:
    """The calibration that the money limit counts: its sum, what is broken, made and attended, what has no price."""
    advice = answer.recommendation
    chosen = answer.estimates[0]
    head = "" if chosen.total is None else f"{words.money(chosen.total, advice.currency)}: "
    number = chosen.count.n_trial_batches
    batches = "" if number == 1 else f"{number} trial batches of "
    text = (
        f"{head}{batches}{chosen.schedule.n_specimens} specimens ({schedule_label(chosen.schedule)}), "
        f"{chosen.count.n_of_curve} made, {visits_words(chosen)}"
    )
    is_open = answer.to_fill_in and chosen.total is not None
    return f"{text}; not priced: {', '.join(answer.to_fill_in)}" if is_open else text


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


def specimen_words(answer: PriceAnswer) -> str:
    """What one specimen more buys where it buys most, and one less where it costs least."""
    if not answer.gains:
        return "cannot be said with one batch"
    currency = answer.recommendation.currency
    more = _step_words("more", min(answer.gains, key=_best_step), currency)
    less = f"; {_step_words('less', min(answer.losses, key=_best_step), currency)}" if answer.losses else ""
    return f"{more}{less} (own batch, {HELD_OUT})"


def _best_step(step: SpecimenGain) -> tuple[bool, float]:
    return not step.is_allowed, step.rms_then


def _step_words(change: str, step: SpecimenGain, currency: str) -> str:
    money = "" if step.cost is None else f"{'saves ' * (step.cost < 0)}{words.money(abs(step.cost), currency)}, "
    beyond = "" if step.is_allowed else ", beyond the plan's limits"
    return f"one {change} at {age_label(step.age_h)}{beyond}: {money}{_fine(step.rms_now)} to {_fine(step.rms_then)}"


def _fine(rms: float) -> str:
    return f"{100 * rms:.2f} %"


def _fill_in_words(answer: PriceAnswer) -> str:
    keys = ", ".join(answer.to_fill_in)
    if answer.estimates[0].total is None:
        return NO_PRICES.format(keys=keys)
    return f"{NOT_PRICED}: {keys}. Fill them in under [costs] in the plan."


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


def _steps(answer: PriceAnswer) -> Section:
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
            _fine(step.rms_now),
            _fine(step.rms_then),
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
