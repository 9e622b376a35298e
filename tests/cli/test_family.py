"""``test-ages minimum FOLDER``: a family with a broken plan, with other targets, and with nothing in it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Outcome
from tests.oracle.small_plans import invent, write_plan
from tests.oracle.test_family import ASKED, MIXES

Run = Callable[..., Outcome]
QUICK = ("--draws", 20, "--workers", 1)


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("pair")
    for name in list(MIXES)[:2]:
        (root / name).mkdir()
        invent(root / name, **MIXES[name])  # type: ignore[arg-type]
        write_plan(root / name, ASKED)
    return root


def test_an_empty_folder_is_refused(run: Run, tmp_path: Path) -> None:
    outcome = run("minimum", tmp_path)
    assert outcome.code == 2
    assert "There is no plan here" in outcome.err


def test_a_broken_plan_gets_its_row_and_stops_no_other(run: Run, pair: Path, tmp_path: Path) -> None:
    shutil.copytree(pair, tmp_path / "family")
    (tmp_path / "family" / "mix-0" / "plan.toml").write_text("[target]\n")
    outcome = run("minimum", tmp_path / "family", *QUICK, "--json")
    assert outcome.code == 2
    document = json.loads(outcome.out)
    assert [row["exit"] for row in document["plans"]] == [2, 0]
    assert document["plans"][0]["problem"]
    assert document["envelope"] is None
    assert "two plans or more" in document["no_envelope_because"]
    assert document["clause"] == []


def test_plans_of_different_targets_have_no_rule_together(run: Run, pair: Path, tmp_path: Path) -> None:
    shutil.copytree(pair, tmp_path / "family")
    path = tmp_path / "family" / "mix-1" / "plan.toml"
    text = path.read_text()
    assert 'ages = ["12 h"]' in text
    path.write_text(text.replace('ages = ["12 h"]', 'ages = ["72 h"]', 1))
    outcome = run("minimum", tmp_path / "family", *QUICK)
    assert outcome.code == 0
    flat = " ".join(outcome.out.split())
    assert "different targets (12 h; 3 d)" in flat
    assert "none: there is no rule for all" in flat


def test_files_are_written_and_at_least_asks_of_one_plan(run: Run, pair: Path, tmp_path: Path) -> None:
    outcome = run("minimum", pair, *QUICK, "--out", tmp_path / "out", "--full")
    assert outcome.code == 0
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"family.json", "clause.html", "clause.docx"}
    assert "What every number rests on" in outcome.out
    refused = run("minimum", pair, "--at-least", "ASTM C1074")
    assert refused.code == 2
    assert "asks of one plan" in refused.err
