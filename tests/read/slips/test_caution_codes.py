"""Cautions of reading by their codes: each given by the slip it is meant for, none by sound tables.

What each says, and where it begins and ends, is tested with the slips themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from planner.read import check_plan
from tests.read.invented_study import Rows, plan_text, write_study
from tests.read.slips.test_further_slips import BREAKS as FURTHER
from tests.read.slips.test_further_slips import PLANS
from tests.read.slips.test_more_wrong_files import BREAKS as MORE
from tests.read.slips.test_more_wrong_files import READINGS, record
from tests.read.slips.test_workbook_slips import EXPORTS, WORKBOOKS, workbook
from tests.read.slips.test_wrong_files import BREAKS as FIRST
from tests.read.slips.test_wrong_files import CURED, changed, put, site, study, temperatures

Slips = Mapping[str, tuple[Callable[[Rows], object], tuple[str, ...]]]
OWN: Slips = {"older than two years": (lambda rows: put(rows, "age_h", 20000, batch="S1", age_h=672), ())}
OF_BREAKS: list[tuple[str, Slips, str]] = [
    ("age-of-one-batch", FURTHER, "672 as 627"),
    ("curing-of-one-batch", FURTHER, "site for standard at one age"),
    ("twice-the-breaks", FURTHER, "two batches under one name"),
    ("one-strength", FURTHER, "one batch filled down"),
    ("strengths-weak", FURTHER, "loads in tonnes"),
    ("strengths-strong", MORE, "MPa under ksi"),
    ("batch-off-by-a-factor", MORE, "half the strength"),
    ("batch-apart", FIRST, "a quarter too strong"),
    ("unlike-other-batches", FIRST, "one cell with a slipped point"),
    ("ages-of-years", OWN, "older than two years"),
    ("ages-of-one-batch", MORE, "one batch in minutes"),
    ("geometry-unreadable", MORE, "no shape"),
    ("mixes-pooled", FIRST, "another mix pooled"),
    ("strength-falls", FURTHER, "ages pushed up"),
    ("columns-not-read", FURTHER, "one column nobody reads"),
    ("outlying-break", FURTHER, "a sum of two specimens"),
]
OF_WORKBOOKS = [
    ("hidden-rows", "a hidden row"),
    ("notes-not-read", "a note that says little"),
    ("other-sheets", "an older version beside it"),
]
OF_READINGS = [
    ("two-readings-at-once", "two readings at once"),
    ("temperature-unused", "a batch nobody broke"),
]


def codes(path: Path) -> set[str]:
    plan, problems = check_plan(path)
    assert plan is not None, problems
    return {caution.code for caution in plan.records.cautions}


@pytest.mark.parametrize(("code", "slips", "name"), OF_BREAKS, ids=[case[0] for case in OF_BREAKS])
def test_of_break_tables(tmp_path: Path, code: str, slips: Slips, name: str) -> None:
    assert code in codes(write_study(tmp_path, breaks=changed(slips[name][0])))


def test_of_batches_of_other_shapes(tmp_path: Path) -> None:
    rows = study()
    rows[0].append("geometry")
    for row in rows[1:]:
        row.append("cube 100 mm" if row[0] == "S4" else "cylinder 100x200 mm")
    assert "geometry-differs" in codes(write_study(tmp_path, breaks=rows))


@pytest.mark.parametrize(("code", "name"), OF_WORKBOOKS)
def test_of_workbooks(tmp_path: Path, code: str, name: str) -> None:
    assert code in codes(write_study(tmp_path, breaks=workbook(WORKBOOKS[name][0]), break_file="breaks.xlsx"))


@pytest.mark.parametrize(
    ("code", "name"), [("rows-repeated", "three rows pasted twice"), ("equal-at-an-age", "a strength filled in")]
)
def test_of_exports(tmp_path: Path, code: str, name: str) -> None:
    assert code in codes(write_study(tmp_path, breaks=EXPORTS[name][0]))


@pytest.mark.parametrize(("code", "name"), OF_READINGS)
def test_of_temperature_tables(tmp_path: Path, code: str, name: str) -> None:
    readings = record(READINGS[name][0])
    assert code in codes(write_study(tmp_path, breaks=study(), temperatures=readings, plan=plan_text(prior=CURED)))


@pytest.mark.parametrize(
    ("code", "breaks", "readings"),
    [
        ("record-long", study(), temperatures(times=3600.0)),
        ("record-continued", study(), temperatures(last_h=640.0)),
        ("record-carried-on", *site(11.65)),
    ],
)
def test_of_the_end_of_records(tmp_path: Path, code: str, breaks: Any, readings: Any) -> None:
    assert code in codes(write_study(tmp_path, breaks=breaks, temperatures=readings, plan=plan_text(prior=CURED)))


def test_of_plans(tmp_path: Path) -> None:
    assert codes(write_study(tmp_path, breaks=study(), plan=plan_text(**PLANS["40 sensors"][0]))) == {"plan-value"}


def test_sound_tables_give_none(tmp_path: Path) -> None:
    assert codes(write_study(tmp_path, breaks=study())) == set()
    (tmp_path / "with").mkdir()
    plan = plan_text(prior=CURED)
    assert codes(write_study(tmp_path / "with", breaks=study(), temperatures=temperatures(), plan=plan)) == set()
