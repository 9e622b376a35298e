"""Many plans into one table: a bad one stops no other, finished ones are kept."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from planner.sweeping import kept_rows
from planner.sweeping.sweep_rows import COLUMNS
from planner.terms.problems import InputError, NoScheduleError, Problem
from tests.cli.conftest import Engine, Outcome
from tests.report.invented_result import invented_recommendation

Run = Callable[..., Outcome]


@pytest.fixture
def folder(plan: Path) -> Path:
    """Three plans, one of them in a folder below."""
    whole = plan.parent
    text = plan.read_text(encoding="utf-8")
    (whole / "second.toml").write_text(text.replace("specimens = 18", "specimens = 17"), encoding="utf-8")
    below = whole / "below"
    below.mkdir()
    for name in ("plan.toml", "breaks.csv", "temperatures.csv"):
        (below / name).write_bytes((whole / name).read_bytes())
    return whole


def table(out: Path) -> list[dict[str, str]]:
    with (out / "sweep.csv").open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def test_every_plan_has_a_line_and_the_screen_says_the_same(run: Run, folder: Path, tmp_path: Path) -> None:
    outcome = run("sweep", folder, "--out", tmp_path / "out")
    assert outcome.code == 0
    rows = table(tmp_path / "out")
    assert [row["plan"] for row in rows] == ["below/plan.toml", "plan.toml", "second.toml"]
    assert tuple(rows[0]) == COLUMNS
    assert {row["schedule"] for row in rows} == {"6 h x3, 12 h x3, 1 d x3, 28 d x2"}
    assert all(float(row["nested_rms"]) > 0 and row["exit"] == "0" for row in rows)
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["sweep.csv"]
    for row in rows:
        assert row["plan"] in outcome.out


def test_table_and_screen_carry_what_was_asked_and_what_is_kept(run: Run, folder: Path, tmp_path: Path) -> None:
    outcome = run("sweep", folder, "--out", tmp_path / "out")
    advice = invented_recommendation()
    later = advice.honest.next_batch
    assert later is not None
    for row in table(tmp_path / "out"):
        assert float(row["tolerance"]) == advice.tolerance
        assert float(row["assurance"]) == advice.assurance
        assert float(row["next_batch_within_tolerance"]) == pytest.approx(later.within_tolerance)
        assert row["evidence"] == advice.evidence.grade
        assert row["currency"] == advice.currency
        assert float(row["cost"] or "nan") == pytest.approx(advice.recommended.cost, nan_ok=True)
    flat = " ".join(outcome.out.split())
    for heading in ("within", "wanted", "evidence", "inside", "cost", "later pour"):
        assert heading in flat
    for figure in (f"{100 * later.within_tolerance:.0f} %", f"{100 * later.rms:.1f} %", advice.evidence.grade):
        assert figure in flat


def test_json_is_one_document(run: Run, folder: Path) -> None:
    outcome = run("sweep", folder, "--json")
    document = json.loads(outcome.out)
    assert document["schema"] == "test-age-planner/sweep/1"
    assert [row["plan"] for row in document["rows"]] == ["below/plan.toml", "plan.toml", "second.toml"]


def test_one_plan_over_many_targets(run: Run, plan: Path, engine: Engine) -> None:
    outcome = run("sweep", plan, "--targets", "1 d, 16 h; 3 d", "--json", "--workers", 1)
    assert outcome.code == 0
    assert [row["target"] for row in json.loads(outcome.out)["rows"]] == ["16 h", "1 d", "3 d"]
    assert [asked["plan"].settings.target.ages_h for asked in engine.asked] == [(16.0,), (24.0,), (72.0,)]


@pytest.mark.parametrize("text", ["", "28", "-1 d", "0 h", "soon", ","])
def test_targets_that_are_no_ages_are_refused(run: Run, plan: Path, text: str) -> None:
    outcome = run("sweep", plan, "--targets", text)
    assert (outcome.code, outcome.out) == (2, "")
    assert "--targets" in outcome.err


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_a_plan_that_cannot_be_used_stops_no_other(run: Run, folder: Path, workers: int) -> None:
    (folder / "broken.toml").write_text("x = [", encoding="utf-8")
    outcome = run("sweep", folder, "--json", "--workers", workers)
    assert outcome.code == 2
    rows = json.loads(outcome.out)["rows"]
    assert [row["exit"] for row in rows] == [0, 2, 0, 0]
    assert "not TOML" in rows[1]["problem"]
    assert rows[1]["schedule"] == ""


@pytest.mark.parametrize(
    ("failure", "code", "said"),
    [
        (NoScheduleError("Loosen it."), 3, "Loosen it."),
        (InputError([Problem("plan", f"fault {n}") for n in range(5)]), 2, "And 2 more"),
        (MemoryError(), 1, "not enough memory"),
        (ZeroDivisionError("division by zero"), 1, "A fault of the program"),
    ],
)
def test_why_there_is_no_answer(run: Run, plan: Path, engine: Engine, failure: Exception, code: int, said: str) -> None:
    engine.failure = failure
    outcome = run("sweep", plan, "--json")
    assert outcome.code == code
    assert said in json.loads(outcome.out)["rows"][0]["problem"]


def test_a_stopped_sweep_goes_on_where_it_was(
    run: Run, folder: Path, engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    real = engine.recommend

    def stop_at_the_third(plan: object, **options: object) -> object:
        if len(engine.asked) == 2:
            raise KeyboardInterrupt
        return real(plan, **options)

    monkeypatch.setattr(sys.modules["planner.pipeline"], "recommend", stop_at_the_third)
    outcome = run("sweep", folder, "--out", out, "--workers", 1)
    assert outcome.code == 130
    assert "with --resume to go on" in outcome.err
    assert not (out / "sweep.csv").exists()
    monkeypatch.setattr(sys.modules["planner.pipeline"], "recommend", real)
    engine.asked.clear()
    outcome = run("sweep", folder, "--out", out, "--workers", 1, "--resume")
    assert outcome.code == 0
    n_taken = 3 - len(engine.asked)
    assert n_taken >= 1
    assert f"{n_taken} of 3 rows were finished by an earlier run" in outcome.err
    assert len(table(out)) == 3
    assert not (out / ".unfinished").exists()


def keep_rows(out: Path, run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sweep that ends but does not clear away."""
    monkeypatch.setattr(kept_rows.KeptRows, "remove", lambda _self: None)
    assert run("sweep", folder, "--out", out).code == 0


@pytest.mark.parametrize("change", ["input", "draws", "seed", "targets", "damage", "another figure", "program", "none"])
def test_a_row_is_kept_only_for_the_same_inputs_settings_and_program(
    run: Run, folder: Path, engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, change: str
) -> None:
    out = tmp_path / "out"
    keep_rows(out, run, folder, monkeypatch)
    options: list[object] = []
    if change == "input":
        with (folder / "breaks.csv").open("a", encoding="utf-8") as stream:
            stream.write("\n\n")  # even a change that means nothing
    elif change in ("draws", "seed"):
        options = [f"--{change}", 7]
    elif change == "targets":
        options = ["--targets", "3 d"]
    elif change == "damage":
        for path in (out / ".unfinished").iterdir():
            path.write_text('{"plan": ')
    elif change == "another figure":
        for path in (out / ".unfinished").iterdir():
            held = json.loads(path.read_bytes())
            held["row"]["rms"] = 0.001
            path.write_text(json.dumps(held), encoding="utf-8")
    elif change == "program":
        monkeypatch.setattr(kept_rows, "whole_mark", lambda: "another")
    engine.asked.clear()
    assert run("sweep", folder, "--out", out, "--resume", *options).code == 0
    assert len(engine.asked) == {"none": 0, "input": 2}.get(change, 3)


def test_no_formula_reaches_the_table_alive(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "evil"
    folder.mkdir()
    for name in ("=cmd|calc.toml", "+1.toml", "-1.toml", "@sum.toml"):
        (folder / name).write_text("x = [", encoding="utf-8")
    run("sweep", folder, "--out", tmp_path / "out")
    with (tmp_path / "out" / "sweep.csv").open(newline="", encoding="utf-8") as stream:
        cells = [cell for row in csv.reader(stream) for cell in row]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]
    assert "'=cmd|calc.toml" in cells


def test_an_empty_folder_is_told(run: Run, tmp_path: Path) -> None:
    outcome = run("sweep", tmp_path)
    assert (outcome.code, outcome.out) == (2, "")
    assert "no plan here" in outcome.err


def test_resume_without_a_folder_is_told(run: Run, folder: Path) -> None:
    assert "--out" in run("sweep", folder, "--resume").err


def test_hidden_folders_are_not_looked_into(run: Run, folder: Path) -> None:
    hidden = folder / ".hidden"
    hidden.mkdir()
    (hidden / "plan.toml").write_text("x = [", encoding="utf-8")
    assert run("sweep", folder).code == 0
