"""Words that may stand on no output: untrue ones, ones that could mislead at night, and second names of one thing."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache

import pytest

from planner.pipeline import minimum, price
from planner.read import load_plan
from planner.report.accounts.minimum_account import minimum_account
from planner.report.accounts.price_account import price_account
from planner.report.documents.values.recommendation_document import recommendation_document, write_json
from planner.report.text.plain_blocks import plain_sections
from planner.terms.results.recommendation import Recommendation
from tests.report.invented_answers import invented_minimum, invented_price
from tests.report.test_renderers_agree import RESULTS, WORDED, on_terminal
from tests.verdict.test_safe_reading_words import SCENARIOS

FORBIDDEN = {
    r"\brel(y|ied|ying) on\b|wait until|wait factor": "safe reading, safe-reading factor",
    r"\bpress\b": "testing machine",
    r"shape factor": "length/diameter correction",
    r"in the winner": "how often in the best schedule",
    r"\blater batch|\bnew batch\b|next batch\b": "own batch, later pour",
    r"20 MPa wait": "no strength but the plan's own",
    r"lie within 1\d\d(\.\d)? %": "no useful bound",
    r"ettringite[^.]*65 C[^.]*EN 13670": "65 C is EN 13369",
}
SOURCE_KEYS = r'"(next_batch|safe_reading_basis|basis)[^,]*'  # names and values of keys, which stay


def as_json(told: Recommendation) -> str:
    return re.sub(SOURCE_KEYS, "", write_json(recommendation_document(told)))


@cache
def questions() -> str:
    """Price and minimum, invented and of a real plan cut down by its budget."""
    plan = load_plan(SCENARIOS / "runway-panels" / "specification.toml")
    parts = [*price_account(invented_price()), *minimum_account(invented_minimum())]
    parts += [*price_account(price(plan, n_draws=10)), *minimum_account(minimum(plan, n_draws=10))]
    return plain_sections(tuple(parts), width=400)


OUTPUTS: dict[str, Callable[[], str]] = {
    f"{shape}, {name}": lambda render=render, build=build: render(build())  # type: ignore[misc]
    for shape, render in {
        **WORDED,
        "short": lambda told: on_terminal(told, is_full=False),
        "JSON": as_json,
    }.items()
    for name, build in RESULTS.items()
}
OUTPUTS["price and minimum"] = questions


@pytest.mark.parametrize("output", OUTPUTS.values(), ids=OUTPUTS)
def test_no_forbidden_word(output: Callable[[], str]) -> None:
    text = " ".join(output().replace("\u00a0", " ").split())
    assert len(text) > 1000
    for pattern, instead in FORBIDDEN.items():
        found = re.search(f".{{0,40}}({pattern}).{{0,40}}", text, re.IGNORECASE)
        assert found is None, f"{found[0]!r}: say {instead}"


@pytest.mark.parametrize("build", RESULTS.values(), ids=RESULTS)
def test_equal_gain_is_explained_where_it_stands(build: Callable[[], Recommendation]) -> None:
    told = build()
    text = " ".join(on_terminal(told, is_full=False).replace("\u00a0", " ").split())
    assert ("equal gain" in text) == (told.equal_gain is not None)
    assert ("equal gain: ages spaced for equal strength steps" in text) == (told.equal_gain is not None)
