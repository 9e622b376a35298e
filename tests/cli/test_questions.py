"""``test-ages price`` and ``test-ages minimum``: arguments in, answer out, exit codes kept."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from planner.terms.problems import NoScheduleError
from tests.cli.conftest import Outcome
from tests.report.invented_answers import invented_minimum, invented_price

Run = Callable[..., Outcome]
ANSWERS: dict[str, Callable[[], Any]] = {"price": invented_price, "minimum": invented_minimum}


@pytest.fixture(params=ANSWERS)
def question(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, question: str) -> list[dict[str, Any]]:
    """What the corridor was asked; it answers this one question at once and knows no other."""
    seen: list[dict[str, Any]] = []

    def answer(plan: Any, **options: Any) -> Any:
        seen.append({"plan": plan, **options})
        options["progress"](1, 2, "scoring schedules")
        return ANSWERS[question]()

    monkeypatch.setitem(sys.modules["planner.pipeline"].__dict__, question, answer)
    return seen


def test_it_prints_the_answer_and_hands_options_on(
    run: Run, plan: Path, question: str, asked: list[dict[str, Any]]
) -> None:
    outcome = run(question, plan, "--seed", 7, "--draws", 50, "--workers", 1)
    assert outcome.code == 0
    assert outcome.out.splitlines()[0].startswith("Overnight panels")
    assert asked[0]["seed"] == 7
    assert asked[0]["n_draws"] == 50
    assert asked[0]["workers"] == 1


def test_json_is_one_document_and_the_file_is_the_same(
    run: Run, plan: Path, tmp_path: Path, question: str, asked: list[dict[str, Any]]
) -> None:
    outcome = run(question, plan, "--json", "--out", tmp_path / "out")
    assert json.loads(outcome.out)["schema"] == f"test-age-planner/{question}/1"
    assert outcome.out == (tmp_path / "out" / f"{question}.json").read_text()
    assert len(asked) == 1


def test_no_schedule_is_code_3(run: Run, plan: Path, question: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_plan: Any, **_options: Any) -> Any:
        raise NoScheduleError("Raise [budget] cost.")

    monkeypatch.setitem(sys.modules["planner.pipeline"].__dict__, question, refuse)
    outcome = run(question, plan)
    assert outcome.code == 3
    assert outcome.out == ""
    assert "Raise [budget] cost." in outcome.err


def test_help_says_what_it_is_for(run: Run, question: str) -> None:
    outcome = run(question, "--help")
    assert outcome.code == 0
    assert "Usage" in outcome.out
