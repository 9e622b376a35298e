"""The first screen: what to cast, when somebody comes in, what to break, how far off, and what must be minded."""

from __future__ import annotations

from planner.report.accounts.full_account import (
    any_hour_words,
    cast_words,
    cost_words,
    target_words,
)
from planner.report.accounts.parts.geometry_account import specimen_facts
from planner.report.accounts.parts.headline_figures import later_figures, own_figures
from planner.report.text import words
from planner.report.text.blocks import Bullets, Facts, Paragraph, Section
from planner.report.text.words import first_sentence
from planner.terms.labels import schedule_label
from planner.terms.results.programme_count import ANY_HOUR
from planner.terms.results.recommendation import Recommendation

WHERE_THE_REST_IS = "In full: --full, or the files that --out writes."
OUTSIDE_NOTE = "!: outside laboratory hours"


def action_section(told: Recommendation) -> Section:
    """Facts to act on, then the cautions that can change the decision, the gravest first."""
    heading = words.clean(told.title, limit=120) or "Recommended schedule"
    minded, rest = minded_facts(told)
    return Section(
        heading,
        (
            Facts(action_facts(told)),
            *_money(told),
            *((Facts(minded),) if minded else ()),
            Paragraph(rest + WHERE_THE_REST_IS),
        ),
    )


def minded_facts(told: Recommendation) -> tuple[tuple[tuple[str, str], ...], str]:
    """The gravest cautions in their first sentences, and how many more there are."""
    shown = told.cautions[: told.n_leading_cautions]
    n_more = len(told.cautions) - len(shown)
    minded = tuple((caution.code, first_sentence(words.clean(caution.text))) for caution in shown)
    return minded, f"{n_more} more {'caution' if n_more == 1 else 'cautions'}: --full. " if n_more else ""


def action_facts(told: Recommendation) -> tuple[tuple[str, str], ...]:
    """Term by term, each a line or two."""
    choice = told.recommended
    facts = [
        ("Predict", target_words(told)),
        ("Cast", _cast_words(told)),
        ("Break", schedule_label(choice.schedule)),
        ("Come in", _visit_words(told)),
        ("Curve", f"{words.short_curve(choice)}; {words.maturity_words(choice.maturity)}"),
        ("Later pour", _later_words(told)),
        ("Own batch", _own_words(told)),
    ]
    if choice.cost is not None:
        facts.append(("Cost", cost_words(told)))
    facts += specimen_facts(told)
    return tuple(facts)


def _cast_words(told: Recommendation) -> str:
    estimate = told.estimate
    if estimate is None or estimate.casting == ANY_HOUR:
        return cast_words(told)
    return f"{estimate.casting}: {cast_words(told)}"


def _visit_words(told: Recommendation) -> str:
    n_visits = told.recommended.n_visits
    counted = "1 visit" if n_visits == 1 else f"{n_visits} visits"
    if told.estimate is None or not told.estimate.break_hours:
        return counted if told.estimate is None else f"{counted}, {any_hour_words(told.estimate)}"
    hours = told.estimate.break_hours
    note = f" ({OUTSIDE_NOTE})" if any(hour.is_outside_hours for hour in hours) else ""
    return f"{counted}: {words.break_hour_words(hours)}{note}"


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


def _money(told: Recommendation) -> tuple[Bullets, ...]:
    return (Bullets(said),) if (said := next_money(told)) else ()


def next_money(told: Recommendation) -> tuple[str, ...]:
    """What the next unit of money, or specimen, would do."""
    if told.spending is not None and told.spending.sentences[1:]:
        return tuple(words.clean(text) for text in told.spending.sentences[1:])
    return () if told.sufficiency is None else (first_sentence(words.clean(told.sufficiency.sentence)),)
