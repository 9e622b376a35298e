"""The answer to an estimator: what to bid and why, what the next specimen or trial batch buys, what is not priced."""

from __future__ import annotations

from collections.abc import Iterator

from planner.report.accounts.full_account import target_words
from planner.report.accounts.parts.headline_figures import HELD_OUT, later_figures, own_figures
from planner.report.accounts.price.estimate_table import casting_words
from planner.report.accounts.price.frontier_account import fine_share
from planner.report.accounts.price.price_parts_account import ready_by_words, ready_words, risk_words
from planner.report.text import words
from planner.report.text.blocks import Block, Facts, Paragraph, Section
from planner.terms.labels import age_label, schedule_label
from planner.terms.results.answers import Equality, PriceAnswer, SpecimenGain
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.cost_item import CostItem, CostKind, CostPart
from planner.terms.results.price_parts import Alternative
from planner.terms.results.programme_count import Estimate
from planner.terms.results.recommended.recommendation import Recommendation

COMPANIONS, SITE_CHECKS = "companions of trial batches", "site checks"
POURS, CONTINGENCY = "early breaks of pours", "contingency"
NOT_PRICED = "Without a price and so not in any sum"
NOTHING_CAST = "The plan casts nothing ([programme] trial_batches = 0), so no calibration is to be paid for."
IF_CAST = "If cast"  # heads what one trial batch would be, where the plan casts none
NO_PRICES = (
    "No prices are given, so the answer is in specimens. For money fill in [costs] in the plan: currency, {keys}. "
    "Nothing is assumed for you."
)


def bid_section(answer: PriceAnswer) -> Section:
    advice = answer.recommendation
    facts = [
        ("Know", target_words(advice)),
        *bid_facts(answer),
        (error_term(answer), _error_words(advice)),
        ("One specimen", specimen_words(answer)),
        *more_facts(answer),
    ]
    blocks: list[Block] = [Facts(tuple(facts))]
    if advice.spending is not None:
        blocks.append(Paragraph(f"Why this row: {words.clean(advice.spending.sentences[0])}"))
    if advice.sufficiency is not None:
        blocks.append(Paragraph(words.clean(advice.sufficiency.sentence) + _enough_costs(advice), is_strong=True))
    if answer.to_fill_in:
        blocks.append(Paragraph(fill_in_words(answer)))
    beside = tuple(_facts_beside(answer))
    if beside:
        blocks.append(Facts(beside))
    return Section(words.clean(advice.title, limit=120) or "Price", tuple(blocks))


def bid_facts(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    """The sum to bid with what it is of, and the sum of everything with what the rest is made of."""
    chosen, currency = answer.estimates[0], answer.recommendation.currency
    if answer.relies_on_records:
        yield "Bid", _records_words(answer)
    yield IF_CAST if answer.relies_on_records else "Bid", _bid_words(answer)
    if chosen.in_all is not None and chosen.total is not None and chosen.in_all > chosen.total:
        said = f"{words.money(chosen.in_all, currency)} with {_beside_words(chosen)}"
        yield ("", f"in all {said}") if answer.relies_on_records else ("In all", said)


def error_term(answer: PriceAnswer) -> str:
    """What heads the errors: where nothing is cast they go on with what one trial batch would be."""
    return "" if answer.relies_on_records else "Error"


def _records_words(answer: PriceAnswer) -> str:
    """What is bid where the plan casts nothing: the records, with what the pours break."""
    bid = bid_of(answer)
    if bid is None:
        return f"{NOTHING_CAST} How far off the records read is judged where the plan has [pours]."
    return f"{NOTHING_CAST} {words.clean(bid.name).capitalize()}: {alternative_words(bid, answer)}."


def bid_of(answer: PriceAnswer) -> Alternative | None:
    """The row to bid; None where batches are drawn, or where nothing is cast and nothing judges the records."""
    return next((item for item in answer.alternatives if item.is_recommended), None)


def alternative_words(item: Alternative, answer: PriceAnswer) -> str:
    """``6600 EUR, later pour 4.6 % off, 94 % inside, beyond the plan's limits``."""
    currency = answer.recommendation.currency
    money = "" if item.cost is None else f"{words.money(item.cost, currency)}, "
    inside = "" if item.within_tolerance is None else f", {words.whole_share(item.within_tolerance)} inside"
    beyond = "" if item.is_within_limits else ", beyond the plan's limits"
    return f"{money}later pour {words.share(item.later_rms)} off{inside}{beyond}"


def more_facts(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    """What an estimator asks next."""
    advice, bid = answer.recommendation, bid_of(answer)
    more = [item for item in answer.alternatives if bid and item.n_trial_batches == bid.n_trial_batches + 1]
    if bid is not None and more and not answer.relies_on_records:
        yield "One batch more", _one_more_words(bid, more[0], advice.currency)
    if answer.risk is not None and not answer.relies_on_records:
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
    parts = dict.fromkeys((COMPANIONS, SITE_CHECKS, POURS, CONTINGENCY), 0.0)
    for item in chosen.items:
        if item.part is not CostPart.CALIBRATION:
            parts[_part_name(item)] += item.amount
    return ", ".join(f"{name} {words.money(amount, '')}" for name, amount in parts.items() if amount)


def _part_name(item: CostItem) -> str:
    if item.kind is CostKind.CONTINGENCY:
        return CONTINGENCY
    if item.kind is CostKind.POUR_BREAKS:
        return POURS
    return COMPANIONS if item.kind.is_acceptance else SITE_CHECKS


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
        f"{chosen.count.n_of_curve} made, {casting_words(chosen)}"
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
    errors = f"{fine_share(step.rms_now)} to {fine_share(step.rms_then)}"
    return f"one {change} at {age_label(step.age_h)}{beyond}: {money}{errors}"


def fill_in_words(answer: PriceAnswer) -> str:
    """What to fill in so that nothing is left out of the sums."""
    if answer.estimates[0].total is None:
        return NO_PRICES.format(keys=", ".join(answer.to_fill_in))
    return f"{open_words(answer)} Fill them in under [costs] in the plan."


def open_words(answer: PriceAnswer) -> str:
    """What the sums leave out, where the plan states some prices but not all; "" where nothing is left out."""
    if not answer.to_fill_in or answer.estimates[0].total is None:
        return ""
    return f"{NOT_PRICED}: {', '.join(answer.to_fill_in)}."
