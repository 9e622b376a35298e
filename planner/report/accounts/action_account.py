"""The first screen: what to cast, when somebody comes in, what to break, how far off, and what must be minded."""

from __future__ import annotations

from planner.report.accounts.full_account import (
    any_hour_words,
    cast_words,
    target_words,
)
from planner.report.accounts.geometries.geometry_account import specimen_facts
from planner.report.accounts.parts.headline_figures import later_figures, own_figures
from planner.report.text import words
from planner.report.text.blocks import Facts, Section
from planner.report.text.words import first_sentence
from planner.terms.labels import schedule_label
from planner.terms.results.programme_count import ANY_HOUR
from planner.terms.results.recommended.recommendation import Recommendation

WHERE_THE_REST_IS = "--full, or the files of --out."
MOST_UNPRICED = 2  # items named on the first screen
OUTSIDE_NOTE = "!: outside laboratory hours"


def action_section(advice: Recommendation) -> Section:
    """Facts to act on, what would help most, then the cautions that can change the decision, the gravest first."""
    heading = words.clean(advice.title, limit=120) or "Recommended schedule"
    facts = (
        *action_facts(advice),
        *_listed("Helps most", next_money(advice)),
        *minded_facts(advice, WHERE_THE_REST_IS),
    )
    return Section(heading, (Facts(facts),))


def minded_facts(advice: Recommendation, where_the_rest_is: str) -> tuple[tuple[str, str], ...]:
    """The leading cautions, a line each, and where the others and the figures are."""
    minded, n_more = leading_cautions(advice)
    more = "" if not n_more else f"{n_more} more {'caution' if n_more == 1 else 'cautions'}, all figures: "
    return (*_listed("Mind", tuple(text for _, text in minded)), ("In full", more + where_the_rest_is))


def _listed(term: str, texts: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """The term once, each text a line of its own."""
    return tuple((term if place == 0 else "", text) for place, text in enumerate(texts))


def leading_cautions(advice: Recommendation) -> tuple[tuple[tuple[str, str], ...], int]:
    """The gravest cautions, code and first sentence, and how many more there are."""
    shown = advice.cautions[: advice.n_leading_cautions]
    minded = tuple((caution.code, first_sentence(words.clean(caution.text))) for caution in shown)
    return minded, len(advice.cautions) - len(shown)


def action_facts(advice: Recommendation) -> tuple[tuple[str, str], ...]:
    """Term by term, each a line or two."""
    choice = advice.recommended
    facts = [
        ("Predict", target_words(advice)),
        ("Cast", _cast_words(advice)),
        ("Break", schedule_label(choice.schedule)),
        ("Come in", _visit_words(advice)),
        ("Curve", f"{words.short_curve(choice)}; {words.short_maturity_words(choice.maturity)}"),
        ("Later pour", _later_words(advice)),
        ("Own batch", _own_words(advice)),
    ]
    if choice.cost is not None:
        facts.append(("Cost", _cost_words(advice)))
    facts += specimen_facts(advice, is_brief=True)
    return tuple(facts)


def _cast_words(advice: Recommendation) -> str:
    estimate = advice.estimate
    if estimate is None or estimate.casting == ANY_HOUR:
        return cast_words(advice)
    return f"{estimate.casting}: {cast_words(advice)}"


def _visit_words(advice: Recommendation) -> str:
    beside = companion_words(advice)
    return _schedule_visits(advice) + (f"; {beside}" if beside else "")


def _schedule_visits(advice: Recommendation) -> str:
    n_visits = advice.recommended.n_visits
    counted = "1 visit" if n_visits == 1 else f"{n_visits} visits"
    if advice.estimate is None or not advice.estimate.break_hours:
        return counted if advice.estimate is None else f"{counted}, {any_hour_words(advice.estimate)}"
    hours = advice.estimate.break_hours
    note = f" ({OUTSIDE_NOTE})" if any(hour.is_outside_hours for hour in hours) else ""
    return f"{counted}: {words.break_hour_words(hours)}{note}"


def companion_words(advice: Recommendation) -> str:
    """Site-cured companions of the trial batch are broken at the targets, whatever the schedule says; "" of none."""
    if advice.programme is None or not advice.programme.n_acceptance:
        return ""
    return f"companions at {words.ages_words(advice.target_ages_h)}"


def _cost_words(advice: Recommendation) -> str:
    """The calibration as the money limit counts it, what comes to it, and what has no price."""
    text = words.money(advice.recommended.cost, advice.currency)
    if advice.estimate is None:
        return text
    companions = sum(item.amount for item in advice.estimate.items if item.kind.is_acceptance)
    if companions:
        text += f"; companions on site {words.money(companions, advice.currency)} more"
    without = [item for item in advice.estimate.items if item.is_open]
    unpriced = tuple(dict.fromkeys("casting" if item.kind.is_casting else item.name for item in without))
    if len(unpriced) > MOST_UNPRICED:
        return f"{text}; {len(unpriced)} items not priced"
    return f"{text}; not priced: {', '.join(map(words.clean, unpriced))}" if unpriced else text


def _later_words(advice: Recommendation) -> str:
    """The fixed programme's own figures where they are known, with what the choosing rule did on held-out batches."""
    if not words.is_error_promised(advice):
        return "no error can be promised below 3 d"
    figures = later_figures(advice)
    if figures is None:
        return f"unknown: {words.clean(advice.honest.next_batch_unknown_because).rstrip('.')}"
    read = words.with_quantile(advice, "next batch", f"read {figures.rms} off ({figures.named})")
    return f"{read}; {figures.share} {figures.verdict}"


def _own_words(advice: Recommendation) -> str:
    figures = own_figures(advice)
    if figures is None:
        return "not known: nothing could be held out" if words.is_error_promised(advice) else "no error can be promised"
    rms, named = figures
    return words.with_quantile(advice, "own batch", f"read {rms} off ({named})")


def next_money(advice: Recommendation) -> tuple[str, ...]:
    """What the next unit of money, or specimen, would do."""
    if advice.spending is not None and advice.spending.helps:
        return tuple(words.clean(text) for text in advice.spending.helps)
    return () if advice.sufficiency is None else (first_sentence(words.clean(advice.sufficiency.sentence)),)
