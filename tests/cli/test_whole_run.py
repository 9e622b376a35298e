"""The starter plan through the real engine: what a new user does in the first minute."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands_here import run_here

PROGRAM = (sys.executable, "-m", "planner.cli.main")


@pytest.fixture(autouse=True)
def engine() -> None:
    """The real one, not the one of this room."""


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Start the program as a user does."""
    return subprocess.run([*PROGRAM, *arguments], capture_output=True, text=True, check=False, encoding="utf-8")


def test_start_check_recommend_score(tmp_path: Path) -> None:
    folder, out = tmp_path / "mine", tmp_path / "out"
    assert run_here("start", folder).code == 0
    plan = str(folder / "plan.toml")
    assert run_here("check", plan).code == 0
    done = run("recommend", plan, "--json", "--draws", "50", "--out", str(out), "--cast", "2027-03-01 18:00")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert document["recommended"]["n_specimens"] <= 18
    assert done.stdout == (out / "recommendation.json").read_text(encoding="utf-8")
    assert {path.name for path in out.iterdir()} == {
        *("recommendation.json", "choices.csv", "report.html", "workbook.xlsx", "testing-room.html", "breaks.ics")
    }
    asked = run_here("score", plan, "--schedule", "1 d x3, 3 d x3, 7 d x3", "--json", "--draws", "50")
    assert asked.code == 0, asked.err
    scored = json.loads(asked.out)
    assert scored["scored"]["ages_h"] == [24.0, 72.0, 168.0]
    assert scored["recommendation"]["recommended"]["ages_h"] == document["recommended"]["ages_h"]


def test_limits_that_nothing_meets_end_with_code_3(tmp_path: Path) -> None:
    run_here("start", tmp_path)
    plan = tmp_path / "plan.toml"
    plan.write_text(plan.read_text(encoding="utf-8").replace("specimens = 18", "specimens = 4"), encoding="utf-8")
    done = run_here("recommend", plan)
    assert (done.code, done.out) == (3, "")
    assert "No schedule satisfies the plan" in done.err
