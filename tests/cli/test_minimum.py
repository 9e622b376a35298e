"""``test-ages minimum``: arguments in, answer out, exit codes kept."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from planner.terms.problems import NoScheduleError
from tests.report.invented_answers import invented_minimum

from .conftest import Outcome

Run = Callable[..., Outcome]


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """What the corridor was asked; it answers at once."""
    seen: list[dict[str, Any]] = []

    def answer(plan: Any, **options: Any) -> Any:
        seen.append({"plan": plan, **options})
        options["progress"](1, 2, "scoring schedules")
        return invented_minimum()

    monkeypatch.setitem(sys.modules["planner.pipeline"].__dict__, "minimum", answer)
    return seen


def test_it_prints_the_answer_and_hands_options_on(run: Run, plan: Path, asked: list[dict[str, Any]]) -> None:
    outcome = run("minimum", plan, "--seed", 7, "--draws", 50, "--workers", 1)
    assert outcome.code == 0
    assert outcome.out.splitlines()[0].startswith("Overnight panels")
    assert asked[0]["seed"] == 7
    assert asked[0]["n_draws"] == 50
    assert asked[0]["workers"] == 1


def test_json_is_one_document_and_the_file_is_the_same(
    run: Run, plan: Path, tmp_path: Path, asked: list[dict[str, Any]]
) -> None:
    outcome = run("minimum", plan, "--json", "--out", tmp_path / "out")
    assert json.loads(outcome.out)["schema"] == "test-age-planner/minimum/1"
    assert outcome.out == (tmp_path / "out" / "minimum.json").read_text()
    assert len(asked) == 1


def test_no_schedule_is_code_3(run: Run, plan: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_plan: Any, **_options: Any) -> Any:
        raise NoScheduleError("Raise [budget] cost.")

    monkeypatch.setitem(sys.modules["planner.pipeline"].__dict__, "minimum", refuse)
    outcome = run("minimum", plan)
    assert outcome.code == 3
    assert outcome.out == ""
    assert "Raise [budget] cost." in outcome.err


def test_help_says_what_it_is_for(run: Run) -> None:
    outcome = run("minimum", "--help")
    assert outcome.code == 0
    assert "Usage" in outcome.out
