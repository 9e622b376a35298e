"""The first screen: what to cast, when somebody comes in, what to break, how far off, and what must be minded."""

from __future__ import annotations

from planner.report.accounts.full_account import (
    any_hour_words,
    cast_words,
    target_words,
)
from planner.report.accounts.parts.geometry_account import specimen_facts
from planner.report.accounts.parts.headline_figures import later_figures, own_figures
from planner.report.text import words
from planner.report.text.blocks import Facts, Section
from planner.report.text.words import first_sentence
from planner.terms.labels import schedule_label
from planner.terms.results.programme_count import ACCEPTANCE_LINES, ANY_HOUR, CASTING, CASTING_OUTSIDE
from planner.terms.results.recommendation import Recommendation

WHERE_THE_REST_IS = "--full, or the files of --out."
MOST_UNPRICED = 2  # items named on the first screen
OUTSIDE_NOTE = "!: outside laboratory hours"


def action_section(told: Recommendation) -> Section:
    """Facts to act on, what would help most, then the cautions that can change the decision, the gravest first."""
    heading = words.clean(told.title, limit=120) or "Recommended schedule"
    facts = (*action_facts(told), *_listed("Helps most", next_money(told)), *minded_facts(told, WHERE_THE_REST_IS))
    return Section(heading, (Facts(facts),))


def minded_facts(told: Recommendation, where_the_rest_is: str) -> tuple[tuple[str, str], ...]:
    """The leading cautions, a line each, and where the others and the figures are."""
    minded, n_more = leading_cautions(told)
    more = "" if not n_more else f"{n_more} more {'caution' if n_more == 1 else 'cautions'}, all figures: "
    return (*_listed("Mind", tuple(text for _, text in minded)), ("In full", more + where_the_rest_is))


def _listed(term: str, texts: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """The term once, each text a line of its own."""
    return tuple((term if place == 0 else "", text) for place, text in enumerate(texts))


def leading_cautions(told: Recommendation) -> tuple[tuple[tuple[str, str], ...], int]:
    """The gravest cautions, code and first sentence, and how many more there are."""
    shown = told.cautions[: told.n_leading_cautions]
    minded = tuple((caution.code, first_sentence(words.clean(caution.text))) for caution in shown)
    return minded, len(told.cautions) - len(shown)


def action_facts(told: Recommendation) -> tuple[tuple[str, str], ...]:
    """Term by term, each a line or two."""
    choice = told.recommended
    facts = [
        ("Predict", target_words(told)),
        ("Cast", _cast_words(told)),
        ("Break", schedule_label(choice.schedule)),
        ("Come in", _visit_words(told)),
        ("Curve", f"{words.short_curve(choice)}; {words.short_maturity_words(choice.maturity)}"),
        ("Later pour", _later_words(told)),
        ("Own batch", _own_words(told)),
    ]
    if choice.cost is not None:
        facts.append(("Cost", _cost_words(told)))
    facts += specimen_facts(told, is_brief=True)
    return tuple(facts)


def _cast_words(told: Recommendation) -> str:
    estimate = told.estimate
    if estimate is None or estimate.casting == ANY_HOUR:
        return cast_words(told)
    return f"{estimate.casting}: {cast_words(told)}"


def _visit_words(told: Recommendation) -> str:
    beside = companion_words(told)
    return _schedule_visits(told) + (f"; {beside}" if beside else "")


def _schedule_visits(told: Recommendation) -> str:
    n_visits = told.recommended.n_visits
    counted = "1 visit" if n_visits == 1 else f"{n_visits} visits"
    if told.estimate is None or not told.estimate.break_hours:
        return counted if told.estimate is None else f"{counted}, {any_hour_words(told.estimate)}"
    hours = told.estimate.break_hours
    note = f" ({OUTSIDE_NOTE})" if any(hour.is_outside_hours for hour in hours) else ""
    return f"{counted}: {words.break_hour_words(hours)}{note}"


def companion_words(told: Recommendation) -> str:
    """Site-cured companions of the trial batch are broken at the targets, whatever the schedule says; "" of none."""
    if told.programme is None or not told.programme.n_acceptance:
        return ""
    return f"companions at {words.ages_words(told.target_ages_h)}"


def _cost_words(told: Recommendation) -> str:
    """The calibration as the money limit counts it, what comes to it, and what has no price."""
    text = words.money(told.recommended.cost, told.currency)
    if told.estimate is None:
        return text
    companions = sum(item.amount for item in told.estimate.items if item.name in ACCEPTANCE_LINES)
    if companions:
        text += f"; companions on site {words.money(companions, told.currency)} more"
    unpriced = ["casting" if name in (CASTING, CASTING_OUTSIDE) else name for name in told.estimate.open_items]
    if len(unpriced) > MOST_UNPRICED:
        return f"{text}; {len(unpriced)} items not priced"
    return f"{text}; not priced: {', '.join(map(words.clean, unpriced))}" if unpriced else text


def _later_words(told: Recommendation) -> str:
    """The fixed programme's own figures where they are known, with what the choosing rule did on held-out batches."""
    if not words.is_error_promised(told):
        return "no error can be promised below 3 d"
    figures = later_figures(told)
    if figures is None:
        return f"unknown: {words.clean(told.honest.next_batch_unknown_because).rstrip('.')}"
    read = words.with_quantile(told, "next batch", f"read {figures.rms} off ({figures.named})")
    return f"{read}; {figures.share} {figures.verdict}"


def _own_words(told: Recommendation) -> str:
    figures = own_figures(told)
    if figures is None:
        return "not known: nothing could be held out" if words.is_error_promised(told) else "no error can be promised"
    rms, named = figures
    return words.with_quantile(told, "own batch", f"read {rms} off ({named})")


def next_money(told: Recommendation) -> tuple[str, ...]:
    """What the next unit of money, or specimen, would do."""
    if told.spending is not None and told.spending.helps:
        return tuple(words.clean(text) for text in told.spending.helps)
    return () if told.sufficiency is None else (first_sentence(words.clean(told.sufficiency.sentence)),)
