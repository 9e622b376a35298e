"""``check --tidy``: what was understood, as tables that read back, and never over their own source."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

from planner.read import load_plan
from tests.cli.conftest import Outcome

Run = Callable[..., Outcome]


def test_the_tidy_tables_read_back_to_the_same_records(run: Run, plan: Path, tmp_path: Path) -> None:
    outcome = run("check", plan, "--tidy", tmp_path / "tidy")
    assert outcome.code == 0
    assert "can and cannot answer" in outcome.out
    assert str(tmp_path / "tidy" / "breaks.csv") in outcome.err
    (tmp_path / "tidy" / "plan.toml").write_bytes(plan.read_bytes())
    first, again = load_plan(plan).records, load_plan(tmp_path / "tidy" / "plan.toml").records
    assert [item.strength_mpa for item in again.breaks] == [item.strength_mpa for item in first.breaks]
    assert [item.tested_h for item in again.breaks] == [item.tested_h for item in first.breaks]
    assert len(again.curing_records) == len(first.curing_records)


def test_every_specimen_has_a_row(run: Run, plan: Path, tmp_path: Path) -> None:
    run("check", plan, "--tidy", tmp_path / "tidy")
    records = load_plan(plan).records
    with (tmp_path / "tidy" / "breaks.csv").open(newline="", encoding="utf-8") as stream:
        assert len(list(csv.DictReader(stream))) == len(records.breaks) + len(records.voided)


def test_the_records_themselves_are_never_written_over(run: Run, plan: Path) -> None:
    before = (plan.parent / "breaks.csv").read_bytes()
    outcome = run("check", plan, "--tidy", plan.parent)
    assert outcome.code == 2
    assert outcome.out == ""
    assert "it is not overwritten" in outcome.err
    assert (plan.parent / "breaks.csv").read_bytes() == before


def test_problems_are_listed_and_nothing_is_written(run: Run, plan: Path, tmp_path: Path) -> None:
    plan.write_text(plan.read_text().replace("specimens = 18", "specimen = 18").replace('"10 %"', '"110 %"'))
    outcome = run("check", plan, "--tidy", tmp_path / "tidy")
    assert outcome.code == 2
    assert "specimen" in outcome.err
    assert "tolerance" in outcome.err
    assert not (tmp_path / "tidy").exists()


def test_a_folder_that_cannot_be_used_is_told(run: Run, plan: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    outcome = run("check", plan, "--tidy", tmp_path / "file")
    assert outcome.code == 2
    assert "A file stands where a folder is needed" in outcome.err


def test_files_outside_the_folder_need_a_word(run: Run, plan: Path) -> None:
    (plan.parent / "breaks.csv").rename(plan.parent.parent / "breaks.csv")
    plan.write_text(plan.read_text().replace('"breaks.csv"', '"../breaks.csv"'))
    assert run("check", plan).code == 2
    assert run("check", plan, "--allow-outside").code == 0
