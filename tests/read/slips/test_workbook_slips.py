"""Workbooks and exports as strangers hand them in: what marks, layout and pasting hide is refused or told."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font

from tests.read.invented_study import Rows, csv_bytes, write_study
from tests.read.slips.test_wrong_files import HEADINGS, LEVELS, study, told

Expected = tuple[str, ...]
LAST = 49  # row of the study


def merged_down(column: int, step: int) -> Callable[[Any], None]:
    """A name written once and merged over its rows."""

    def change(sheet: Any) -> None:
        for first in range(2, LAST + 1, step):
            for row in range(first + 1, first + step):
                sheet.cell(row, column).value = None
            sheet.merge_cells(start_row=first, start_column=column, end_row=first + step - 1, end_column=column)

    return change


def units_row(sheet: Any) -> None:
    sheet.insert_rows(2)
    sheet.cell(2, 4).value, sheet.cell(2, 5).value = "[h]", "[MPa]"


def headings_twice(sheet: Any) -> None:
    sheet.insert_rows(25)
    for column, name in enumerate(HEADINGS, 1):
        sheet.cell(25, column).value = name


def filtered(sheet: Any) -> None:
    sheet.auto_filter.ref = f"A1:E{LAST}"
    for row in range(14, LAST + 1):
        sheet.row_dimensions[row].hidden = True


def hidden(sheet: Any) -> None:
    sheet.row_dimensions[5].hidden = True


def struck(sheet: Any) -> None:
    sheet.cell(5, 5).font = Font(strike=True)


def noted(text: str) -> Callable[[Any], None]:
    def change(sheet: Any) -> None:
        sheet.cell(5, 5).comment = Comment(text, "laboratory")

    return change


def as_per_cent(sheet: Any) -> None:
    for row in range(2, LAST + 1):
        cell = sheet.cell(row, 5)
        cell.value, cell.number_format = cell.value / 100, "0.0%"


def durations(sheet: Any) -> None:
    for row in range(2, LAST + 1):
        sheet.cell(row, 4).value = dt.timedelta(hours=sheet.cell(row, 4).value)


def older_version(sheet: Any) -> None:
    sheet.parent.copy_worksheet(sheet).title = "Breaks old"


def a_sheet_a_batch(sheet: Any) -> None:
    rows, book = study(), sheet.parent
    book.remove(sheet)
    for batch in LEVELS:
        page = book.create_sheet(batch)
        page.append(HEADINGS)
        for row in rows[1:]:
            if row[0] == batch:
                page.append(row)


WORKBOOKS: dict[str, tuple[Callable[[Any], object], Expected]] = {
    "batches merged down": (merged_down(1, 12), ("REFUSED", "row 3", "column batch", "43 more")),
    "ages merged over replicates": (merged_down(4, 2), ("REFUSED", "row 3", "column age_h", "empty")),
    "a row of units": (units_row, ("REFUSED", "row 2", '"[h]", which is no number')),
    "headings again below": (headings_twice, ("REFUSED", "row 25", '"age_h", which is no number')),
    "a filter left on": (filtered, ("CAUTION", "36 hidden rows", "like the others")),
    "a hidden row": (hidden, ("CAUTION", "1 hidden row of", "rows 5")),
    "a strength struck out": (struck, ("REFUSED", "row 5", "E5 is struck out", '"void"')),
    "a note that voids": (noted("void: cap crushed"), ("REFUSED", "row 5", "void: cap crushed", '"void"')),
    "a note that says little": (noted("broken by NN"), ("CAUTION", 'E5 "broken by NN"', "not read")),
    "strengths as per cent": (as_per_cent, ("REFUSED", "too weak", "unit in the heading")),
    "ages as durations": (durations, ("REFUSED", "row 2", "which is no number")),
    "a date among strengths": (
        lambda s: setattr(s.cell(5, 5), "value", dt.datetime(2027, 4, 20)),
        ("REFUSED", "row 5", "which is no number"),
    ),
    "a tick among strengths": (lambda s: setattr(s.cell(5, 5), "value", True), ("REFUSED", "row 5", "no number")),
    "an older version beside it": (older_version, ("CAUTION", '"Breaks" is read', '"Breaks old"', "is not")),
    "a sheet for each batch": (a_sheet_a_batch, ("CAUTION", '"S1" is read', '"S2", "S3", "S4"', "are not")),
    "a total below": (lambda s: s.append(["Total", "", "", "", 1246]), ("REFUSED", "row 50", "stronger than")),
    "a footnote below": (lambda s: s.append(["* cap crushed"]), ("REFUSED", "row 50", "empty")),
    "a mean at the side": (lambda s: setattr(s.cell(1, 7), "value", "mean"), ("CAUTION", '"mean"', "not read")),
}


def workbook(change: Callable[[Any], object]) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Breaks"
    for row in study():
        sheet.append(row)
    change(sheet)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.mark.parametrize("name", WORKBOOKS)
def test_a_workbook_with_a_slip_is_told(tmp_path: Path, name: str) -> None:
    change, expected = WORKBOOKS[name]
    said = told(write_study(tmp_path, breaks=workbook(change), break_file="breaks.xlsx"))
    assert any(all(part in line for part in expected) for line in said.splitlines()), said or "nothing was said"


def with_reason(sheet: Any) -> None:
    """A break that is struck out and noted, and void with its reason."""
    sheet.cell(1, 6).value = "void"
    sheet.cell(5, 6).value = "cap crushed"
    struck(sheet)
    noted("rejected")(sheet)


def test_a_workbook_without_a_slip_is_read_without_a_word(tmp_path: Path) -> None:
    assert told(write_study(tmp_path, breaks=workbook(str), break_file="breaks.xlsx")) == ""


def test_a_break_that_is_void_may_be_struck_out_and_noted(tmp_path: Path) -> None:
    said = told(write_study(tmp_path, breaks=workbook(with_reason), break_file="breaks.xlsx"))
    assert said == "CAUTION Void and not used: 1 break (row 5: cap crushed)."


def psi(mark: str) -> Rows:
    rows = study()
    rows[0][4] = "strength_psi"
    for row in rows[1:]:
        row[4] = f"{row[4] * 145.04:,.0f}".replace(",", mark)
    return rows


def pasted(first: int, last: int) -> Rows:
    rows = study()
    return rows + [list(row) for row in rows[first - 1 : last]]


def filled(age_h: int, mpa: float) -> Rows:
    return [[*row[:4], mpa] if row[3] == age_h else row for row in study()]


EXPORTS: dict[str, tuple[bytes, Expected]] = {
    "three rows pasted twice": (csv_bytes(pasted(4, 6)), ("CAUTION", "rows 50 to 52 equal rows 4 to 6", "Remove")),
    "everything pasted twice": (csv_bytes(pasted(2, 49)), ("CAUTION", "rows 50 to 97 equal rows 2 to 49")),
    "a strength filled in": (csv_bytes(filled(24, 20.0)), ("CAUTION", "8 standard breaks at 1 d are 20 MPa")),
    "a full stop between thousands": (csv_bytes(psi("."), delimiter=";"), ("REFUSED", "too weak")),
    "age and strength exchanged": (
        csv_bytes([["batch", "mix", "curing", "strength_mpa", "age_h"], *study()[1:]]),
        ("REFUSED", "row 12", "672 MPa"),
    ),
    "every strength below nought": (
        csv_bytes([study()[0], *([*row[:4], -row[4]] for row in study()[1:])]),
        ("REFUSED", "row 2", "above 0"),
    ),
    "the unit in every cell": (
        csv_bytes([study()[0], *([*row[:4], f"{row[4]} MPa"] for row in study()[1:])]),
        ("REFUSED", "row 2", '"7.8 MPa", which is no number'),
    ),
    "the file cut short": (csv_bytes(study())[:-30], ("REFUSED", "row 48", "empty")),
    "a page for a table": (b"<html><table><tr><td>batch</td></tr></table></html>", ("REFUSED", "Give at least one")),
}


@pytest.mark.parametrize("name", EXPORTS)
def test_an_export_with_a_slip_is_told(tmp_path: Path, name: str) -> None:
    content, expected = EXPORTS[name]
    said = told(write_study(tmp_path, breaks=content))
    assert any(all(part in line for part in expected) for line in said.splitlines()), said or "nothing was said"


@pytest.mark.parametrize(
    "content",
    [
        b"\xef\xbb\xbf" + csv_bytes(study()),
        csv_bytes(study()).decode().encode("utf-16"),
        csv_bytes(study(), delimiter=";").replace(b".", b","),
        csv_bytes(study(), delimiter="\t"),
        csv_bytes(psi(",")),
        csv_bytes(psi("'")),
        csv_bytes(study()).replace(b"\n", b",\n"),
        b"sep=;\n" + csv_bytes(study(), delimiter=";"),
    ],
    ids=["BOM", "UTF-16", "semicolon and comma", "tab", "thousands", "apostrophes", "a comma at the end", "sep line"],
)
def test_what_other_programs_write_is_read_as_it_was_meant(tmp_path: Path, content: bytes) -> None:
    from planner.read import check_plan

    plan, problems = check_plan(write_study(tmp_path, breaks=content))
    assert problems == ()
    assert plan is not None
    found = [(item.batch, item.age_h, item.strength_mpa) for item in plan.records.breaks]
    wanted = [(row[0], float(row[3]), row[4]) for row in study()[1:]]
    assert [one[:2] for one in found] == [one[:2] for one in wanted]
    assert [one[2] for one in found] == pytest.approx([one[2] for one in wanted], abs=0.01)
    assert plan.records.cautions == ()


def test_replicates_of_one_strength_are_no_rows_pasted_twice(tmp_path: Path) -> None:
    rows = study()
    for row in rows[1:]:
        row[4] = round(row[4])  # whole MPa: some replicates are equal
    assert "equal rows" not in told(write_study(tmp_path, breaks=csv_bytes(rows)))
