"""What drawn batches and published growth may never be made to say, on every output of every question."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from planner.pipeline import minimum, price, recommend
from planner.read import load_plan
from planner.report.accounts.minimum_account import minimum_account
from planner.report.accounts.price.price_account import price_account
from planner.report.documents.values.recommendation_document import recommendation_document, write_json
from planner.report.text.plain_blocks import plain_sections
from planner.terms.plan.settings import Plan
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.scenario_outputs import one_search
from tests.report.test_renderers_agree import WORDED, on_terminal

pytestmark = pytest.mark.usefixtures("learnt_once")
SCENARIOS = Path(__file__).parents[2] / "scenarios"
CLAIMS = (
    r"\b9\d %(?: of)? (?:confidence|confident|sure)\b",
    r"\bat 9\d %",
    r"\bof batches lie within\b",
    r"\b1 in 20\b",
    r"\brel(?:y|ied) on\b",
    r"\bwait until\b",
    r"\bmust (?:be )?read\b",
    r"\bgood enough\b",
)


def small(name: str) -> Plan:
    """A scenario with few specimens, so that it takes a second or two."""
    plan = load_plan(SCENARIOS / name)
    choices = replace(plan.settings.choices, most_ages=4, specimens_per_age=(2, 2))
    budget = replace(plan.settings.budget, specimens=8)
    return replace(plan, settings=replace(plan.settings, choices=choices, budget=budget))


def one_batch() -> Plan:
    plan = small("tunnel-segments/sparse.toml")
    only = plan.records.breaks[0].batch
    kept = tuple(item for item in plan.records.breaks if item.batch == only)
    return replace(plan, records=replace(plan.records, breaks=kept))


def late_targets() -> Plan:
    plan = small("stair-core/plan.toml")
    return replace(plan, settings=replace(plan.settings, target=replace(plan.settings.target, ages_h=(72.0,))))


PLANS: dict[str, Callable[[], Plan]] = {
    "three sparse batches": lambda: small("tunnel-segments/sparse.toml"),
    "one sparse batch": one_batch,
    "published growth, early": lambda: small("stair-core/plan.toml"),
    "published growth, late": late_targets,
}
RENDERERS: dict[str, Callable[[Recommendation], str]] = {
    **WORDED,
    "short": lambda told: on_terminal(told, is_full=False),
    "JSON": lambda told: write_json(recommendation_document(told)),
}


FEW = {"n_draws": 10, "workers": 1}


@cache
def answers_of(name: str) -> tuple[Recommendation, tuple[str, ...]]:
    """The recommendation, and what minimum and price tell of a plan that promises an error."""
    plan = PLANS[name]()
    with one_search():
        advice = recommend(plan, **FEW)
        if "early" in name:
            return advice, ()
        accounts = minimum_account(minimum(plan, **FEW)), price_account(price(plan, **FEW))
    return advice, tuple(plain_sections(tuple(account), width=400) for account in accounts)


def told_of(name: str) -> Recommendation:
    return answers_of(name)[0]


def check_silent(text: str) -> None:
    text = " ".join(text.replace("\u00a0", " ").split())
    assert len(text) > 300
    for pattern in CLAIMS:
        found = re.search(pattern, text)
        assert found is None, text[max(found.start() - 60, 0) : found.end() + 60]


@pytest.mark.parametrize("name", PLANS)
@pytest.mark.parametrize("render", RENDERERS.values(), ids=RENDERERS)
def test_no_assurance_and_no_safe_reading(name: str, render: Callable[[Recommendation], str]) -> None:
    check_silent(render(told_of(name)))


@pytest.mark.parametrize("name", PLANS)
def test_no_figure_of_confidence_in_the_document(name: str) -> None:
    document = json.loads(write_json(recommendation_document(told_of(name))))
    assert document["evidence"]["grade"] != "measured"
    assert document["honest"]["safe_reading_factor"] is None
    for which in ("own_batch", "next_batch"):
        verdict: dict[str, Any] | None = document["honest"][which]
        assert (verdict is None) == (name == "published growth, early")
        if verdict is not None:
            assert verdict["rms_upper_95"] is None
            assert verdict["within_tolerance_lower_95"] is None


@pytest.mark.parametrize("name", [name for name in PLANS if "early" not in name])
def test_price_and_minimum_claim_nothing_either(name: str) -> None:
    _, texts = answers_of(name)
    assert len(texts) == 2
    for text in texts:
        check_silent(text)


def test_the_claims_are_found_where_they_stand() -> None:
    for text in (
        "With 95 % confidence, 90 % of batches",
        "at most 4.1 % at 95 %",
        "(95 % sure: at least 93 %)",
        "90 % of batches lie within 10 %",
        "x 1.20 the strength that is needed must be read off the curve",
        "NOT SHOWN: good enough",
    ):
        with pytest.raises(AssertionError, match=re.escape(text[:5])):
            check_silent(f"{text} {'and so on ' * 60}")
