"""The answer to an estimator in sections: what it costs, what the next specimen buys, how others compare."""

from __future__ import annotations

from dataclasses import replace

from planner.report.accounts.full_account import basis_section, cautions_section, has_content
from planner.report.accounts.geometries.geometry_account import geometry_section
from planner.report.accounts.parts.drawn_account import headed
from planner.report.accounts.parts.programme_account import programme_section
from planner.report.accounts.price.bid_account import bid_section, open_words
from planner.report.accounts.price.bid_screen import bid_screen
from planner.report.accounts.price.estimate_table import estimates_section
from planner.report.accounts.price.frontier_account import frontier_sections, steps_section
from planner.report.accounts.price.price_parts_account import (
    alternatives_section,
    programmes_section,
    risk_section,
    stages_section,
)
from planner.report.text import words
from planner.report.text.blocks import Bullets, Paragraph, Section
from planner.terms.results.answers import PriceAnswer


def price_account(answer: PriceAnswer) -> tuple[Section, ...]:
    """Everything about cost, the answer first."""
    advice = answer.recommendation
    by_specimens, by_cost = frontier_sections(answer)
    return _present(
        headed(bid_section(answer), advice),
        estimates_section(answer.estimates, advice.currency),
        _with_open(programmes_section(answer), answer),
        _with_open(alternatives_section(answer), answer),
        _with_open(geometry_section(advice), answer),
        stages_section(answer),
        _with_open(risk_section(answer), answer),
        _with_open(by_specimens, answer),
        _with_open(by_cost, answer),
        _with_open(steps_section(answer), answer),
        Section("Other schedules", (Bullets(tuple(words.clean(item.sentence) for item in answer.equalities)),)),
        programme_section(advice),
        basis_section(advice),
        cautions_section(advice),
    )


def brief_price_account(answer: PriceAnswer) -> tuple[Section, ...]:
    """What to bid and why, and what else one could buy; the tables stand in the full account."""
    return _present(headed(bid_screen(answer), answer.recommendation))


def _present(*sections: Section) -> tuple[Section, ...]:
    return tuple(section for section in sections if has_content(section) and section.blocks)


def _with_open(section: Section, answer: PriceAnswer) -> Section:
    """A section of sums with what they leave out, where the plan states some prices but not all."""
    if not section.blocks or not open_words(answer):
        return section
    return replace(section, blocks=(*section.blocks, Paragraph(open_words(answer))))
