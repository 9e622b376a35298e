"""The first screen of an estimate: what to bid, what it risks and what else the money buys, each a line or two."""

from __future__ import annotations

from collections.abc import Iterator

from planner.report.accounts.full_account import target_words
from planner.report.accounts.geometries.geometry_account import specimen_facts
from planner.report.accounts.parts.headline_figures import later_figures, own_figures
from planner.report.accounts.price.bid_account import (
    NO_PRICES,
    alternative_words,
    bid_facts,
    error_term,
    more_facts,
    specimen_words,
)
from planner.report.text import words
from planner.report.text.blocks import Facts, Section
from planner.terms.results.answers import PriceAnswer

IN_FULL = "--full: every line of the estimate, the tables, risk, days, cautions; or the files of --out."
CHEAPEST_ENOUGH = "good enough, and nothing cheaper is"
CHEAPEST_TIED = "no programme within the limits is enough; the cheapest that ties with the best"


def bid_screen(answer: PriceAnswer) -> Section:
    """Facts to act on; nothing that stands here is missing in the full account."""
    advice = answer.recommendation
    facts = [
        ("Know", target_words(advice)),
        *bid_facts(answer),
        (error_term(answer), _error_words(answer)),
        *_why(answer),
        *_steps(answer),
        *specimen_facts(advice, is_brief=True),
        *_instead(answer),
        *_to_fill_in(answer),
        ("In full", IN_FULL),
    ]
    return Section(words.clean(advice.title, limit=120) or "Price", (Facts(tuple(facts)),))


def _error_words(answer: PriceAnswer) -> str:
    """What is judged, short: a later pour where it can be told, else the own batch."""
    advice = answer.recommendation
    later, own = later_figures(advice), own_figures(advice)
    if later is not None:
        return f"later pour read {later.rms} off ({later.named}); {later.share} {later.verdict}"
    if own is None:
        return "unknown: with one batch nothing can be held out"
    return f"later pour unknown; own batch read {own[0]} off ({own[1]})"


def _why(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    spending = answer.recommendation.spending
    if spending is not None and not answer.relies_on_records:
        yield "Why this", CHEAPEST_ENOUGH if spending.is_enough else CHEAPEST_TIED


def _steps(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    if not answer.relies_on_records:
        yield "One specimen", specimen_words(answer)
    yield from more_facts(answer)


def _instead(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    """What else one could buy but for more trial batches alike, a line each, the term once."""
    of_bid = answer.estimates[0].schedule
    others = [
        item for item in answer.alternatives if not item.is_recommended and (item.n_early or item.schedule != of_bid)
    ]
    for place, item in enumerate(others):
        yield "" if place else "Instead", f"{words.clean(item.name)}: {alternative_words(item, answer)}"


def _to_fill_in(answer: PriceAnswer) -> Iterator[tuple[str, str]]:
    """Where no price is stated at all; else the bid names what is not priced."""
    if answer.to_fill_in and answer.estimates[0].total is None:
        yield "Money", NO_PRICES.format(keys=", ".join(answer.to_fill_in))
