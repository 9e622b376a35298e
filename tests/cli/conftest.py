"""Commands run with an engine that answers at once, so that these tests are about commands alone."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from planner.cli.main import main
from planner.starter import STARTER
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.invented_result import invented_recommendation


@dataclass
class Engine:
    """Stands in for the corridor: remembers what it was asked, answers or raises what it is told to."""

    answer: Recommendation = field(default_factory=invented_recommendation)
    failure: BaseException | None = None
    asked: list[dict[str, Any]] = field(default_factory=list)

    def recommend(self, plan: Any, **options: Any) -> Recommendation:
        self.asked.append({"plan": plan, **options})
        options["progress"](1, 2, "scoring schedules")
        if self.failure is not None:
            raise self.failure
        return self.answer

    def score(self, plan: Any, schedule: Any, **options: Any) -> Any:
        answer = self.recommend(plan, **options)
        return replace(answer.compared[0], label=ChoiceRole.ASKED_ABOUT, schedule=schedule), answer


@dataclass(frozen=True)
class Outcome:
    """What a command left behind."""

    code: int
    out: str
    err: str


@pytest.fixture(autouse=True)
def engine(monkeypatch: pytest.MonkeyPatch) -> Engine:
    stand_in = Engine()
    module = ModuleType("planner.pipeline")
    module.__dict__.update(recommend=stand_in.recommend, score=stand_in.score)
    monkeypatch.setitem(sys.modules, "planner.pipeline", module)
    return stand_in


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Outcome]:
    def run_command(*arguments: object) -> Outcome:
        with pytest.raises(SystemExit) as left:
            main([str(argument) for argument in arguments])
        caught = capsys.readouterr()
        assert isinstance(left.value.code, int)
        assert "Traceback" not in caught.err
        return Outcome(left.value.code, caught.out, caught.err)

    return run_command


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    folder = tmp_path / "starter"
    folder.mkdir()
    for path in STARTER.iterdir():
        if path.is_file():
            (folder / path.name).write_bytes(path.read_bytes())
    return folder / "plan.toml"
