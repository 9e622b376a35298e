"""Loads, actual ages, wide sheets and properties."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

from planner.read import load_plan
from planner.read.breaks.nominal_ages import half_hour_share
from planner.read.tabular.age_headings import match_age_heading
from planner.terms.records import Records
from tests.read.invented_study import Rows, csv_bytes, only_problem, problems_of, write_study, xlsx_bytes


def records_of(folder: Path, rows: Rows, **study: Any) -> Records:
    return load_plan(write_study(folder, breaks=rows, **study)).records


def caution(records: Records, code: str) -> str:
    return next(item.text for item in records.cautions if item.code == code)


LOADS: Rows = [
    ["batch", "age_h", "load_kn", "diameter_mm", "side_mm", "height_mm", "strength_mpa"],
    ["B1", 24, 157.0796, 100, "", 200, ""],
    ["B1", 24, 450.0, "", 150, "", 20.0],
    ["B1", 72, 235.6194, 100, "", 200, 30.0],
]


def test_strength_from_load_and_size(tmp_path: Path) -> None:
    strengths = [item.strength_mpa for item in records_of(tmp_path, LOADS).breaks]
    assert strengths == pytest.approx([20.0, 20.0, 30.0], rel=1e-6)
    assert strengths[1:] == [20.0, 30.0]  # the stated figure stands


def test_pounds_force(tmp_path: Path) -> None:
    rows = [
        ["batch", "age_h", "load_lbf", "diameter_mm"],
        ["B1", 24, "50,000", 152.4],
        ["B1", 72, "60,000", 152.4],
    ]
    # 50000 lbf on a 6 in cylinder: 1768.4 psi = 12.193 MPa
    assert records_of(tmp_path, rows).breaks[0].strength_mpa == pytest.approx(12.193, abs=0.0005)


@pytest.mark.parametrize(
    ("geometry", "strength"), [("Cylinder 100 x 200 mm", 157.0796), ("cube 100 mm", 123.3700550136)]
)
def test_a_geometry_gives_the_size(tmp_path: Path, geometry: str, strength: float) -> None:
    rows = [["batch", "age_h", "load_kn", "geometry"], *(["B1", 24, 1233.70055, geometry] for _ in range(2))]
    assert records_of(tmp_path, rows).breaks[0].strength_mpa == pytest.approx(strength, rel=1e-6)


@pytest.mark.parametrize(
    ("row", "column", "value", "message"),
    [
        (2, 2, "", "neither strength nor load"),
        (2, 2, 0, "load is 0, but it must be above 0"),
        (2, 3, "", "needs a size"),
        (2, 3, -1, "diameter is -1"),
        (2, 4, 100, "a diameter and a side"),
        (4, 6, 33.0, "give 30 MPa but the row has 33 MPa"),
    ],
)
def test_loads_that_cannot_be_used(tmp_path: Path, row: int, column: int, value: Any, message: str) -> None:
    rows = [list(cells) for cells in LOADS]
    rows[row - 1][column] = value
    problem = only_problem(write_study(tmp_path, breaks=rows))
    assert problem.row == row
    assert message in problem.text


def test_short_cylinders_are_named(tmp_path: Path) -> None:
    rows = [list(cells) for cells in LOADS]
    rows[1][5] = 175
    assert "(rows 2)" in caution(records_of(tmp_path, rows), "short-cylinder")


ACTUAL: Rows = [
    ["batch", "age_h", "tested_h", "strength_mpa"],
    ["B1", 12, 12.1, 10.0],
    ["B1", 24, 24.9, 20.0],
    ["B1", 72, 72.0, 30.0],
]


def test_nominal_and_actual_ages(tmp_path: Path) -> None:
    records = records_of(tmp_path, ACTUAL)
    assert [(item.age_h, item.tested_h) for item in records.breaks] == [(12, 12.1), (24, 24.9), (72, 72)]
    text = caution(records, "outside-age-window")
    assert "1 breaks lie outside the age window of ASTM C39" in text
    assert "B1 standard 1 d (row 3) 0.9 h late, permitted 0.5 h" in text
    # between 12 and 72 h: 20 MPa over ln 6; half an hour of 24 h is 1/48
    share = 0.5 / 24 * 20 / math.log(6) / 20
    assert f"half an hour is about {100 * share:.1f} % of the strength" in text


def test_what_half_an_hour_costs() -> None:
    assert half_hour_share({12.0: 10.0}, 12.0) is None
    logarithmic = {age: 5.0 * math.log(age) for age in (6.0, 12.0, 24.0)}
    for age, strength in logarithmic.items():
        assert half_hour_share(logarithmic, age) == pytest.approx(0.5 * 5.0 / age / strength, rel=1e-12)


def test_other_tolerances_may_be_asked_for(tmp_path: Path) -> None:
    path = write_study(tmp_path, breaks=ACTUAL)
    path.write_text(path.read_text() + '[laboratory]\nage_tolerances = "24 h +-1 h, other +-5 %"\n')
    assert "outside-age-window" not in {item.code for item in load_plan(path).records.cautions}


@pytest.mark.parametrize("column", ["age_h", "tested_h"])
def test_ages_off_the_clock_belong_to_their_nominal_age(tmp_path: Path, column: str) -> None:
    ages = (23.6, 24.3, 11.9, 70.5, 22.95, 665.0, 5.13)
    rows = [["batch", column, "strength_mpa"], *(["B1", age, 20.0] for age in ages)]
    records = records_of(tmp_path, rows)
    assert [item.tested_h for item in records.breaks] == list(ages)
    assert [item.age_h for item in records.breaks] == [24, 24, 12, 72, 24, 672, 5]
    assert "7 breaks at other ages than planned" in caution(records, "ages-gathered")
    outside = caution(records, "outside-age-window")
    assert "2 breaks lie outside" in outside  # 22.95 h, and 5.13 h by 2 % of 5 h
    assert "1.1 h early" in outside


def test_round_ages_outside_every_window_are_meant(tmp_path: Path) -> None:
    rows = [["batch", "age_h", "strength_mpa"], ["B1", 13, 10.0], ["B1", 26, 20.0], ["B1", 100, 30.0]]
    assert [item.age_h for item in records_of(tmp_path, rows).breaks] == [13, 26, 100]


def test_actual_ages_far_from_nominal(tmp_path: Path) -> None:
    rows = [list(cells) for cells in ACTUAL]
    rows[3][2] = 27.0
    problem = only_problem(write_study(tmp_path, breaks=rows))
    assert (problem.row, problem.column) == (4, "tested_h")
    assert "at 27 h but its nominal age is 72 h" in problem.text


def test_clock_times_need_casting_times(tmp_path: Path) -> None:
    rows = [["batch", "tested_at", "strength_mpa"], ["B1", "2027-03-01 10:00", 20.0]]
    assert "Clock times need casting times" in only_problem(write_study(tmp_path, breaks=rows)).text


WIDE: Rows = [
    ["batch", "curing", "12 h", "", "1 d (psi)", "1 d (psi) 2", "3 d", ""],
    ["", "", "1", "2", "1", "2", "1", "2"],
    ["B1", "lab", 1500, 1520, 3000, 3020, 4400, ""],
    ["B2", "lab", 1600, 1590, 3100, "", 4500, 4510],
]


@pytest.mark.parametrize("break_file", ["breaks.csv", "breaks.xlsx"])
def test_ages_across_the_sheet(tmp_path: Path, break_file: str) -> None:
    content = csv_bytes(WIDE) if break_file.endswith("csv") else xlsx_bytes([["Report"], *WIDE])
    path = write_study(tmp_path, breaks=content, break_file=break_file)
    records = load_plan(path).records
    got = [(item.batch, item.age_h, round(item.strength_mpa / 0.006894757)) for item in records.breaks]
    assert got == [
        ("B1", 12, 1500), ("B1", 12, 1520), ("B1", 24, 3000), ("B1", 24, 3020), ("B1", 72, 4400),
        ("B2", 12, 1600), ("B2", 12, 1590), ("B2", 24, 3100), ("B2", 72, 4500), ("B2", 72, 4510),
    ]  # fmt: skip
    assert "read as 10 breaks at 12 h, 24 h, 72 h" in caution(records, "wide-sheet")
    first = 3 if break_file.endswith("csv") else 4
    assert [item.row for item in records.breaks] == [first] * 5 + [first + 1] * 5


def test_a_bad_cell_across_the_sheet(tmp_path: Path) -> None:
    rows = [list(cells) for cells in WIDE]
    rows[3][4] = "broke"
    problem = only_problem(write_study(tmp_path, breaks=rows))
    assert problem.row == 4
    assert 'Given "broke"' in problem.text


def test_two_units_across_the_sheet(tmp_path: Path) -> None:
    rows = [list(cells) for cells in WIDE]
    rows[0][6] = "3 d MPa"
    assert "different units (mpa, psi)" in only_problem(write_study(tmp_path, breaks=rows)).text


@pytest.mark.parametrize(
    ("heading", "age", "which"),
    [
        ("12 h", "12 h", None), ("12h", "12h", None), ("12_h_2", "12 h", "2"), ("28 d (1)", "28 d", "1"),
        ("7 days rep 2", "7 days", "2"), ("3 d #3", "3 d", "3"), ("28-day", "28-day", None),
        ("1 d a", "1 d", "a"), ("28 d 2 (psi)", "28 d", "2"), ("28 d cylinder 3", "28 d", "3"),
    ],
)  # fmt: skip
def test_headings_that_are_ages(heading: str, age: str, which: str | None) -> None:
    found = match_age_heading(heading)
    assert found is not None
    assert (found["age"], found["which"]) == (age, which)


@pytest.mark.parametrize("heading", ["batch", "12", "d 12", "12 hx", "28 days strength class", "age_h", ""])
def test_headings_that_are_no_ages(heading: str) -> None:
    assert match_age_heading(heading) is None


PROPERTIES: Rows = [
    ["batch", "age_h", "property", "strength_mpa"],
    ["B1", 24, "compressive", 20.0],
    ["B1", 72, "Compressive strength", 30.0],
    ["B1", 24, "flexural", 3.0],
    ["B1", 72, "flexural", "not tested"],
]


def test_properties_are_never_mixed(tmp_path: Path) -> None:
    records = records_of(tmp_path, PROPERTIES)
    assert [item.strength_mpa for item in records.breaks] == [20.0, 30.0]
    assert "2 of 4 rows" in caution(records, "property-selected")
    problem = only_problem(write_study(tmp_path, breaks=PROPERTIES, prior='property = "flexural"'))
    assert problem.row == 5
    problem = only_problem(write_study(tmp_path, breaks=PROPERTIES, prior='property = "splitting"'))
    assert "There are: compressive, flexural" in problem.text


def test_a_weak_property_is_no_unit_fault(tmp_path: Path) -> None:
    rows = [
        ["batch", "age_h", "property", "strength_mpa"],
        ["B1", 24, "splitting", 1.2],
        ["B1", 72, "splitting", 1.9],
    ]
    assert len(records_of(tmp_path, rows, prior='property = "splitting"').breaks) == 2
    assert re.search(
        "too weak", problems_of(write_study(tmp_path, breaks=[rows[0], ["B1", 24, "compressive", 1]]))[0].text
    )
