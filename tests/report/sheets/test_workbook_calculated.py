"""The workbook after a spreadsheet program has calculated it: range checks, and the way back into a plan.

Skipped only where LibreOffice is not installed.
"""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from planner.read import load_later, load_plan
from planner.report.documents.workbook import render_workbook
from tests.report.invented_result import invented_recommendation
from tests.report.sheets.test_workbook import SETTINGS

OFFICE = shutil.which("soffice") or shutil.which("libreoffice")
pytestmark = pytest.mark.skipif(OFFICE is None, reason="no LibreOffice here")

PLAN = """
[prior]
breaks = "filled.xlsx"
temperatures = "filled.xlsx"
standard_curing_c = 20
[target]
ages = ["1 d"]
tolerance = "10 %"
[choices]
ages = ["6 h", "12 h", "1 d"]
fewest_ages = 2
most_ages = 3
specimens_per_age = [2, 3]
[budget]
specimens = 9
"""


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workbook with results entered as a laboratory would, calculated by a spreadsheet program."""
    folder = tmp_path_factory.mktemp("workbook")
    book = load_workbook(io.BytesIO(render_workbook(invented_recommendation(), SETTINGS)))
    sheet = book["Specimens"]
    entries = {
        "M2": 10.0, "M3": 10.4, "M4": 10.2,  # 6 h: range 3.9 % of the mean
        "M5": 18.0, "M6": 22.0, "M7": 20.0,  # 12 h: range 20 %
        "L8": 250.0, "L9": 285.0, "N8": 24.25,  # 1 d by load on 7854 mm2: 31.83 and 36.29 MPa
        "M10": 5.0, "Q10": "end not flat",
        "L11": 250.0, "Y11": 101.0,  # by load on the measured diameter: 8011.8 mm2, 31.2 MPa
        "Z2": 3770.0, "Z3": 3700.0, "AC2": "ground", "AD2": 6.3,
        "P2": "=not a formula",
    }  # fmt: skip
    for place, entry in entries.items():
        sheet[place].value = entry
    sheet["P2"].data_type = "s"
    readings = book["Temperatures"]
    for row, (elapsed_h, temperature_c) in enumerate(((0, 20.0), (6, 27.5), (30, 21.0)), start=2):
        for column, value in enumerate(("trial-1", "standard", elapsed_h, temperature_c), start=1):
            readings.cell(row, column).value = value
    given = folder / "given"
    given.mkdir()
    book.save(given / "filled.xlsx")
    subprocess.run(
        [
            *(str(OFFICE), "--headless", f"-env:UserInstallation={(folder / 'profile').as_uri()}"),
            *("--convert-to", "xlsx", "--outdir", str(folder), str(given / "filled.xlsx")),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    return folder / "filled.xlsx"


@pytest.fixture(scope="module")
def register(filled: Path) -> Worksheet:
    return load_workbook(filled, data_only=True)["Specimens"]


def test_the_range_of_replicates_is_judged_as_they_come_in(register: Worksheet) -> None:
    assert register["S2"].value == pytest.approx(0.4 / 10.2)
    assert register["T2"].value == pytest.approx(3.3 * 0.032)
    assert register["U2"].value == "within the acceptable range"
    assert register["S5"].value == pytest.approx(0.2)
    assert register["U5"].value == "beyond it: look for a cause"


def test_strength_follows_from_the_load_and_void_breaks_do_not_count(register: Worksheet) -> None:
    assert register["R8"].value == pytest.approx(31.83)
    assert register["R10"].value in (None, "")
    assert register["T8"].value == pytest.approx(2.8 * 0.032)  # two replicates left
    # (36.29 - 31.83) / 34.06 = 13.1 % of the mean, above the 10 % of cylinders
    assert register["U8"].value == "break a third"


def test_cost_adds_up(filled: Path) -> None:
    sheet = load_workbook(filled, data_only=True)["Cost"]
    items = [row for row in sheet.iter_rows(min_row=2, values_only=True) if row[1] is not None]
    assert sheet.cell(sheet.max_row, 4).value == pytest.approx(sum(row[3] for row in items))
    assert all(row[3] == pytest.approx(row[1] * row[2]) for row in items)
    assert items[0][3] == 18 * (11 + 2 + 2)


def test_a_plan_reads_the_breaks_and_temperatures_back(filled: Path) -> None:
    plan = filled.parent / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    records = load_plan(plan).records
    strengths = [(item.specimen, item.age_h, item.strength_mpa) for item in records.breaks]
    assert strengths[:2] == [("trial-1-6h-1", 6.0, 10.0), ("trial-1-6h-2", 6.0, 10.4)]
    assert len(strengths) == 9
    assert records.breaks[6].tested_h == 24.25
    assert records.breaks[6].strength_mpa == pytest.approx(31.83)
    assert {item.mix for item in records.breaks} == {"panel mix"}
    assert [item.void for item in records.voided] == ["end not flat"]
    assert records.curing_records[0].temperature_c.tolist() == [20.0, 27.5, 21.0]


def test_density_follows_from_mass_and_size(register: Worksheet) -> None:
    # 100 x 200 mm: 1570796 mm3; 3770 g are 2400 kg/m3, 3700 g 2355, their mean 2377.5
    assert (register["AA2"].value, register["AA3"].value) == (2400, 2355)
    assert register["AB2"].value == pytest.approx(2400 / 2377.5 - 1)
    assert register["R11"].value == pytest.approx(31.2, abs=0.005)


def test_maturity_at_the_break_is_read_back_as_a_later_break(filled: Path) -> None:
    plan = filled.parent / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    given = load_later(plan, filled)
    assert given.records.breaks[0].maturity == 6.3
    assert given.records.breaks[1].maturity is None
    assert given.records.curing_records[0].temperature_c.tolist() == [20.0, 27.5, 21.0]
