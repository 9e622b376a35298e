"""Break files: shapes that must give the same records, and faults with their rows."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from planner.read import load_plan
from planner.terms.records import Break
from planner.units import MPA_PER_KSI, MPA_PER_PSI
from tests.read.invented_study import (
    BREAK_HEADINGS,
    Rows,
    break_rows,
    csv_bytes,
    only_problem,
    problems_of,
    write_study,
    xlsx_bytes,
)

Change = Callable[[Rows], Rows]


def changed(row: int, column: str, value: Any) -> Rows:
    """The study with one cell changed; rows as a spreadsheet numbers them."""
    rows = break_rows()
    rows[row - 1][BREAK_HEADINGS.index(column)] = value
    return rows


def renamed(old: str, new: str) -> Rows:
    rows = break_rows()
    rows[0] = [new if heading == old else heading for heading in rows[0]]
    return rows


def without(*columns: str) -> Rows:
    keep = [place for place, heading in enumerate(BREAK_HEADINGS) if heading not in columns]
    return [[row[place] for place in keep] for row in break_rows()]


def mapped(column: str, change: Callable[[Any], Any], heading: str | None = None) -> Rows:
    rows = renamed(column, heading or column)
    place = BREAK_HEADINGS.index(column)
    for row in rows[1:]:
        row[place] = change(row[place])
    return rows


def breaks_of(folder: Path, breaks: bytes | Rows, break_file: str = "breaks.csv") -> tuple[Break, ...]:
    return load_plan(write_study(folder, breaks=breaks, break_file=break_file)).records.breaks


def test_the_plain_shape(tmp_path: Path) -> None:
    breaks = breaks_of(tmp_path, break_rows())
    assert len(breaks) == 16
    assert breaks[0] == Break(
        batch="B1",
        mix="M1",
        specimen="B1-12-1",
        geometry="cylinder 150x300 mm",
        curing="standard",
        age_h=12.0,
        tested_h=12.0,
        strength_mpa=10.0,
        row=2,
    )


def decimal_commas(rows: Rows) -> Rows:
    return [[str(cell).replace(".", ",") if isinstance(cell, float) else cell for cell in row] for row in rows]


SAME_SHAPES = {
    "byte order mark": ("b.csv", b"\xef\xbb\xbf" + csv_bytes(break_rows())),
    "carriage returns": ("b.csv", csv_bytes(break_rows(), newline="\r\n")),
    "old carriage returns": ("b.csv", csv_bytes(break_rows(), newline="\r")),
    "semicolons": ("b.csv", csv_bytes(break_rows(), delimiter=";")),
    "tabs": ("b.csv", csv_bytes(break_rows(), delimiter="\t")),
    "decimal commas with semicolons": ("b.csv", csv_bytes(decimal_commas(break_rows()), delimiter=";")),
    "decimal commas in quotes": ("b.csv", csv_bytes(decimal_commas(break_rows()))),
    "two-byte text": ("b.csv", csv_bytes(break_rows()).decode().encode("utf-16")),
    "spaces around cells": ("b.csv", csv_bytes([[f"  {cell} " for cell in row] for row in break_rows()])),
    "headings in words": ("b.csv", csv_bytes(renamed("strength_mpa", "Strength (N/mm²)"))),
    "ages in days": ("b.csv", csv_bytes(mapped("age_h", lambda age: age / 24, "Age [days]"))),
    "ages written out": ("b.csv", csv_bytes(mapped("age_h", lambda age: f"{age} h", "age"))),
    "curing synonyms": ("b.csv", csv_bytes(mapped("curing", lambda _: "Lab"))),
    "geometry as typed": ("b.csv", csv_bytes(mapped("geometry", lambda _: "Cylinder 150 × 300mm"))),
    "extra columns": ("b.csv", csv_bytes([[*row, "note"] for row in break_rows()])),
    "trailing separators": ("b.csv", csv_bytes([[*row, "", ""] for row in break_rows()])),
    "workbook": ("b.xlsx", xlsx_bytes(break_rows())),
    "workbook with other sheets first": ("b.xlsx", xlsx_bytes(break_rows(), before=("Cover", "Notes"))),
    "workbook of text cells": ("b.xlsx", xlsx_bytes([[str(cell) for cell in row] for row in break_rows()])),
}


@pytest.mark.parametrize("shape", SAME_SHAPES)
def test_harmless_shapes_give_the_same_breaks(tmp_path: Path, shape: str) -> None:
    break_file, content = SAME_SHAPES[shape]
    (tmp_path / "plain").mkdir()
    (tmp_path / "other").mkdir()
    assert breaks_of(tmp_path / "other", content, break_file) == breaks_of(tmp_path / "plain", break_rows())


def test_accented_labels_of_western_files_survive(tmp_path: Path) -> None:
    content = csv_bytes(mapped("mix", lambda _: "béton")).decode().encode("latin-1")
    assert {item.mix for item in breaks_of(tmp_path, content)} == {"béton"}


@pytest.mark.parametrize("break_file", ["breaks.csv", "breaks.xlsx"])
def test_row_numbers_are_those_of_a_spreadsheet(tmp_path: Path, break_file: str) -> None:
    rows = changed(4, "strength_mpa", "weak")
    rows = [["Laboratory report", *[""] * 6], [""] * 7, *rows[:2], [""] * 7, *rows[2:]]
    content = csv_bytes(rows) if break_file.endswith("csv") else xlsx_bytes(rows)
    problem = only_problem(write_study(tmp_path, breaks=content, break_file=break_file))
    assert (problem.row, problem.column) == (7, "strength_mpa")
    assert 'Given "weak", which is no number' in problem.text


@pytest.mark.parametrize(
    ("heading", "factor"),
    [("strength_psi", MPA_PER_PSI), ("strength_ksi", MPA_PER_KSI), ("Strength (MPa)", 1.0)],
)
def test_strength_units(tmp_path: Path, heading: str, factor: float) -> None:
    rows = mapped("strength_mpa", lambda strength: strength / factor, heading)
    for got, wanted in zip(breaks_of(tmp_path, rows), break_rows()[1:], strict=True):
        assert got.strength_mpa == pytest.approx(wanted[-1], rel=1e-12)


@pytest.mark.parametrize("written", ["2,900", "2,900.0", "2 900", "2’900"])
def test_thousands_in_psi(tmp_path: Path, written: str) -> None:
    number = count(900)  # batches with the same strengths throughout are refused
    rows = mapped("strength_mpa", lambda _: written.replace("900", str(next(number)), 1), "strength_psi")
    assert breaks_of(tmp_path, rows)[0].strength_mpa == pytest.approx(2900 * MPA_PER_PSI, rel=1e-12)


def test_a_comma_that_may_be_either_is_refused_with_both_readings(tmp_path: Path) -> None:
    problem = only_problem(write_study(tmp_path, breaks=changed(3, "strength_mpa", "20,125")))
    assert problem.row == 3
    assert "may be 20.125 or 20125" in problem.text


def test_a_doubtful_comma_follows_the_rest_of_its_column(tmp_path: Path) -> None:
    rows = decimal_commas(break_rows())
    rows[2][-1] = "10,125"
    assert breaks_of(tmp_path, rows)[1].strength_mpa == 10.125


FAULTS: list[tuple[str, Rows, int | None, str | None, str]] = [
    ("no batch column", without("batch"), None, None,
     'There is no column "batch".*headings are: mix, specimen'),
    ("no age column", without("age_h"), None, None, "There is no age column. Give one of age_h, age_d, age"),
    ("no strength column", without("strength_mpa"), None, None, "There is no strength column"),
    ("near strength", renamed("strength_mpa", "strenght_mpa"), None, "strenght_mpa",
     'nearest known is "strength_mpa"'),
    ("near curing", renamed("curing", "curring"), None, "curring", 'nearest known is "curing"'),
    ("near batch", renamed("batch", "bacth"), None, "bacth", 'nearest known is "batch"'),
    ("two strengths", [[*r, r[-1]] if i else [*r, "strength_psi"] for i, r in enumerate(break_rows())], None,
     None, r"2 strength columns \(strength_mpa, strength_psi\)"),
    ("two ages", [[*r, 1] if i else [*r, "age_d"] for i, r in enumerate(break_rows())], None, None,
     r"2 age columns \(age_h, age_d\)"),
    ("column twice", [[*r, 1] if i else [*r, "Age (h)"] for i, r in enumerate(break_rows())], None, "Age (h)",
     "both mean age_h"),
    ("empty strength", changed(5, "strength_mpa", ""), 5, "strength_mpa", "The cell is empty"),
    ("zero strength", changed(5, "strength_mpa", 0), 5, "strength_mpa",
     "strength is 0, but it must be above 0"),
    ("negative age", changed(6, "age_h", -24), 6, "age_h", "age is -24, but it must be above 0"),
    ("infinite strength", changed(5, "strength_mpa", "inf"), 5, "strength_mpa", "must be a finite number"),
    ("not a number", changed(5, "strength_mpa", "NaN"), 5, "strength_mpa", "must be a finite number"),
    ("huge number", changed(5, "strength_mpa", "1e999"), 5, "strength_mpa", "no number|finite"),
    ("underscore", changed(5, "strength_mpa", "2_0"), 5, "strength_mpa", "no number"),
    ("unit in cell", changed(5, "strength_mpa", "20 MPa"), 5, "strength_mpa",
     'Given "20 MPa", which is no number'),
    ("empty batch", changed(7, "batch", " "), 7, "batch", "Name the batch"),
    ("unknown curing", changed(7, "curing", "stadard"), 7, "curing", 'Perhaps "standard" is meant'),
    ("empty curing", changed(7, "curing", ""), 7, "curing", "Give one of standard, site, heat"),
    ("strength in psi", changed(8, "strength_mpa", 2900), 8, "strength_mpa",
     "2900 MPa, stronger than any concrete"),
    ("all too weak", mapped("strength_mpa", lambda s: s / 1000), None, "strength_mpa",
     "too weak for hardened concrete"),
    ("days as hours", changed(8, "age_h", 28), 8, "age_h",
     r"age is 28 h, but other breaks at 28 d \(672 h\)"),
    ("all days as hours", mapped("age_h", lambda age: {12: 1, 24: 3, 72: 7, 672: 28}[age]), None, "age_h",
     "customary ages in days"),
    ("doubled label", changed(9, "specimen", "B1-12-1"), 9, "specimen", "already broken in row 2"),
    ("two geometries", changed(9, "geometry", "cube 100 mm"), 9, "geometry",
     r"2 geometries \(cylinder 150x300 mm, cube 100 mm\).*\[prior\] geometry"),
]  # fmt: skip


@pytest.mark.parametrize("break_file", ["breaks.csv", "breaks.xlsx"])
@pytest.mark.parametrize(("rows", "row", "column", "message"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_a_fault_is_named_with_its_row(
    tmp_path: Path, break_file: str, rows: Rows, row: int | None, column: str | None, message: str
) -> None:
    problem = only_problem(write_study(tmp_path, breaks=rows, break_file=break_file))
    assert (problem.file, problem.row, problem.column) == (break_file, row, column)
    assert re.search(message, problem.text), problem.text


def test_hours_typed_into_a_column_of_days(tmp_path: Path) -> None:
    rows = mapped("age_h", lambda age: age / 24, "age_d")
    for row in (4, 5):
        rows[row - 1][BREAK_HEADINGS.index("age_h")] = 24
    problems = problems_of(write_study(tmp_path, breaks=rows))
    assert [problem.row for problem in problems] == [4, 5]
    assert "age is 24 d, but other breaks at 24 h" in problems[0].text


def test_early_ages_that_share_digits_with_late_ones_are_left_alone(tmp_path: Path) -> None:
    rows = [*break_rows(), ["B1", "M1", "e1", "cylinder 150x300 mm", "standard", 28, 24.0]]
    assert len(breaks_of(tmp_path, rows)) == 17  # 24 MPa at 28 h is no 28 d strength


def test_a_row_with_decimal_commas_among_commas(tmp_path: Path) -> None:
    content = csv_bytes(break_rows()) + b"B3,M1,s,cylinder 150x300 mm,standard,24,20,5\n"
    problem = only_problem(write_study(tmp_path, breaks=content))
    assert problem.row == 18
    assert "8 cells but there are 7 headings" in problem.text


def test_many_bad_rows_are_counted_beyond_the_first(tmp_path: Path) -> None:
    rows = break_rows()[:1] + [["B1", "M1", f"s{i}", "", "standard", 24, f"x{i}"] for i in range(100)]
    problems = problems_of(write_study(tmp_path, breaks=rows))
    assert len(problems) == 26
    assert problems[-1].text == "75 more rows have the same fault, the last is row 101."


@pytest.mark.parametrize(("n_rows", "n_problems"), [(4, 4), (5, 1), (100, 1)])
def test_rows_with_one_wrong_word_are_told_together(tmp_path: Path, n_rows: int, n_problems: int) -> None:
    rows = break_rows()[:1] + [["B1", "M1", f"s{i}", "", "moist", 24, 20] for i in range(n_rows)]
    problems = problems_of(write_study(tmp_path, breaks=rows))
    assert len(problems) == n_problems
    assert problems[0].row == 2
    assert (f"The same in {n_rows - 1} more: rows 3, 4, 5" in problems[0].text) == (n_problems == 1)


def test_void_breaks_are_listed_and_not_used(tmp_path: Path) -> None:
    rows = [[*row, ""] for row in break_rows()]
    rows[0][-1] = "void"
    rows[3][-1] = "cap failed"
    rows[5][-1], rows[5][-2] = "no reading", ""
    rows[6][-1] = "no"
    records = load_plan(write_study(tmp_path, breaks=rows)).records
    assert len(records.breaks) == 14
    assert [(item.row, item.void) for item in records.voided] == [(4, "cap failed"), (6, "no reading")]
    assert "Void and not used: 2 breaks" in next(c.text for c in records.cautions if c.code == "voided-breaks")


def test_nothing_left_is_refused(tmp_path: Path) -> None:
    rows = [[*row, "lost"] for row in break_rows()]
    rows[0][-1] = "void"
    assert "Every row is void" in only_problem(write_study(tmp_path, breaks=rows)).text


def test_geometry_is_selected_never_converted(tmp_path: Path) -> None:
    rows = changed(9, "geometry", "Cube 100 mm")
    records = load_plan(write_study(tmp_path, breaks=rows, prior='geometry = "Cylinder 150 x 300 mm"')).records
    assert len(records.breaks) == 15
    assert {item.geometry for item in records.breaks} == {"cylinder 150x300 mm"}
    assert "geometry-selected" in {caution.code for caution in records.cautions}


def test_a_geometry_that_no_break_has(tmp_path: Path) -> None:
    problem = only_problem(write_study(tmp_path, prior='geometry = "cube 150 mm"'))
    assert "There are: cylinder 150x300 mm" in problem.text


def test_missing_columns_are_assumed_aloud(tmp_path: Path) -> None:
    records = load_plan(write_study(tmp_path, breaks=without("curing", "mix"))).records
    assert (records.has_curing_column, records.has_mix_column) == (False, False)
    assert {item.curing for item in records.breaks} == {"standard"}
    assert {item.mix for item in records.breaks} == {""}
    assert {"curing-assumed", "mix-assumed"} <= {caution.code for caution in records.cautions}


def test_a_clean_study_has_no_cautions(tmp_path: Path) -> None:
    assert load_plan(write_study(tmp_path)).records.cautions == ()


@pytest.mark.parametrize(
    ("second", "is_outlying"),
    [(21.39, False), (21.41, True)],  # acceptable range of two: 2.8 x 2.4 % = 6.72 % of the mean, from 12 MPa on
)
def test_outlying_companions_are_named_not_dropped(tmp_path: Path, second: float, is_outlying: bool) -> None:
    records = load_plan(write_study(tmp_path, breaks=changed(5, "strength_mpa", second))).records
    found = [caution.text for caution in records.cautions if caution.code == "outlying-break"]
    assert bool(found) is is_outlying
    assert len(records.breaks) == 16
    if is_outlying:
        assert "In 1 of 6 sets" in found[0]
        assert "B1 standard 1 d (rows 4, 5)" in found[0]
