"""Breaks after the plan: their own columns, the workbook's sheets, every fault in a message."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from planner.read import load_later
from planner.terms.problems import InputError
from tests.issued_curve.trial_files import PLAN, write_trial

HEAD = "batch,curing,age_h,strength_mpa,maturity,{}\n"


def table(folder: Path, text: str, required: str = "required_mpa") -> Path:
    path = folder / "later.csv"
    path.write_text(HEAD.format(required) + text, encoding="utf-8")
    return path


def test_maturity_and_required_strength_are_read(tmp_path: Path) -> None:
    given = load_later(PLAN, table(tmp_path, "P1,site,6,21,5.5,15\nP1,site,6,22,,\n"))
    first, second = given.records.breaks
    assert (first.maturity, first.required_mpa) == (5.5, 15.0)
    assert (second.maturity, second.required_mpa) == (None, None)
    assert given.inputs[0][0] == "later.csv"


@pytest.mark.parametrize(("column", "given"), [("required_psi", "2,900.75"), ("required_ksi", "2.90075")])
def test_required_strength_may_be_in_pounds(tmp_path: Path, column: str, given: str) -> None:
    # 2900.75 psi are 20 MPa (exact factor .00689475729)
    breaks = load_later(PLAN, table(tmp_path, f'P1,site,6,21,5.5,"{given}"\n', column)).records.breaks
    assert breaks[0].required_mpa == pytest.approx(20.0, abs=1e-4)


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("P1,site,6,21,-1,15", "row 2, column maturity: The maturity is -1"),
        ("P1,site,6,21,5,0", "row 2, column required_mpa: The required strength is 0"),
        ("P1,site,6,21,soon,15", 'row 2, column maturity: Given "soon", which is no number'),
    ],
)
def test_faulty_cells_are_named(tmp_path: Path, row: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        load_later(PLAN, table(tmp_path, row + "\n"))


def test_two_required_columns_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="2 required strength columns"):
        load_later(PLAN, table(tmp_path, "P1,site,6,21,5,15,2\n", "required_mpa,required_ksi"))


def test_records_of_earlier_batches_have_no_such_columns(tmp_path: Path) -> None:
    from planner.read import load_plan

    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.read_text(encoding="utf-8"), encoding="utf-8")
    for name in ("breaks.csv", "temperatures.csv"):
        (tmp_path / name).write_bytes((PLAN.parent / name).read_bytes())
    lines = (tmp_path / "breaks.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "breaks.csv").write_text(
        "\n".join([lines[0] + ",maturity", *(line + ",any" for line in lines[1:])]), encoding="utf-8"
    )
    assert all(item.maturity is None for item in load_plan(plan).records.breaks)


def test_missing_files_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        load_later(PLAN, tmp_path / "trial.csv")
    with pytest.raises(InputError, match="no such file"):
        load_later(PLAN, table(tmp_path, "P1,site,6,21,5.5,15\n"), tmp_path / "temperatures.csv")
    with pytest.raises(InputError, match="no such file"):
        load_later(tmp_path / "plan.toml", table(tmp_path, "P1,site,6,21,5.5,15\n"))


def test_records_that_end_too_early_are_refused(tmp_path: Path) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1")
    lines = temperatures.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if ",site," not in line or float(line.split(",")[3]) < 10]
    temperatures.write_text("\n".join(kept), encoding="utf-8")
    with pytest.raises(InputError, match=r"the temperature record of .* ends at"):
        load_later(PLAN, breaks, temperatures)


def filled_workbook(folder: Path, *, has_readings: bool) -> Path:
    """Sheets as ``recommend`` names them, with values where formulas were calculated and saved."""
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "Summary"
    sheet.append(["Overnight panels"])
    breaks = book.create_sheet("Breaks")
    breaks.append(["batch", "mix", "specimen", "geometry", "curing", "age_h", "tested_h", "strength_mpa", "void"])
    for age, strength in ((4, 17.0), (8, 26.0), (24, 33.0), (72, 40.0)):
        breaks.append(["T1", "", f"{age}h-1", "cylinder 100x200 mm", "standard", age, age, strength, None])
        breaks.append([None] * 9)
    temperatures = book.create_sheet("Temperatures")
    temperatures.append(["batch", "curing", "elapsed_h", "temperature_c", "sensor", "placement"])
    if has_readings:
        for hour in range(0, 74):
            temperatures.append(["T1", "standard", hour, 25.0, None, None])
    path = folder / "workbook.xlsx"
    book.save(path)
    return path


@pytest.mark.parametrize("has_readings", [False, True])
def test_workbook_gives_breaks_and_its_readings_where_it_has_some(tmp_path: Path, has_readings: bool) -> None:
    given = load_later(PLAN, filled_workbook(tmp_path, has_readings=has_readings))
    assert [item.strength_mpa for item in given.records.breaks] == [17.0, 26.0, 33.0, 40.0]
    assert len(given.records.curing_records) == int(has_readings)


def test_formulas_never_calculated_are_told(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.append(["batch", "curing", "age_h", "strength_mpa"])
    for row in range(2, 5):
        sheet.append([f'=IF(F{row}<>"","T1","")', '="standard"', "=24", f"=F{row}"])
    book.save(tmp_path / "workbook.xlsx")
    with pytest.raises(InputError, match=r"never calculated, or what they show has not been entered\. Enter it, save"):
        load_later(PLAN, tmp_path / "workbook.xlsx")
