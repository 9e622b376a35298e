"""The workbook: sheets, labels, rules; user text is never a formula."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import replace
from functools import cache

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from planner.laboratory.clock.break_times import break_times
from planner.report.documents.workbook import render_workbook
from planner.report.sheets.break_rows import pressed_area_mm2
from planner.report.sheets.sheet_cells import put_text
from planner.report.sheets.specimens import within_test_cv
from planner.terms.plan.settings import Budget, ChoiceLimits, Costs, Laboratory, ProgrammeSettings, Settings, Target
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.invented_result import HOSTILE_NAMES, bare_recommendation, invented_recommendation

LABORATORY = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo")
SETTINGS = Settings(
    target=Target(ages_h=(6.0, 24.0), tolerance=0.1),
    choices=ChoiceLimits(ages_h=(6.0, 24.0), fewest_ages=1, most_ages=2, specimens_per_age=(2, 3)),
    budget=Budget(specimens=18),
    programme=ProgrammeSettings(instrumented=2, spares=0.1, companions_per_check=3, n_checks=1),
    costs=Costs(currency="EUR", specimen=18, break_one=25, fixed=400),
    laboratory=LABORATORY,
)
BARE_SETTINGS = replace(SETTINGS, programme=None, costs=None, laboratory=None)


def opened(advice: Recommendation, settings: Settings = SETTINGS, **options: object) -> Workbook:
    return load_workbook(io.BytesIO(render_workbook(advice, settings, **options)))  # type: ignore[arg-type]


@cache
def plain_book() -> Workbook:
    """The invented recommendation's workbook, to be read alone."""
    return opened(invented_recommendation())


def column(sheet: Worksheet, heading: str) -> list[object]:
    headings = [cell.value for cell in sheet[1]]
    return [row[headings.index(heading)] for row in sheet.iter_rows(min_row=2, values_only=True)]


def test_sheets_stand_in_the_order_of_the_work() -> None:
    assert plain_book().sheetnames == [
        *("Summary", "Specimens", "Breaks", "Temperatures", "Cost", "Compared schedules")
    ]


def test_every_specimen_has_its_own_label_age_and_purpose() -> None:
    sheet = plain_book()["Specimens"]
    labels = column(sheet, "label")
    assert len(labels) == len(set(labels)) == 11 + 2 + 2 + 6 + 3  # six companions on site at two targets
    assert labels[:3] == ["trial-1-6h-1", "trial-1-6h-2", "trial-1-6h-3"]
    assert column(sheet, "age, h")[:11] == [6] * 3 + [12] * 3 + [24] * 3 + [672] * 2
    purposes = column(sheet, "purpose")
    assert purposes.count("break") == 11
    assert purposes.count("spare") == 2
    assert purposes.count("companion") == 3
    assert purposes.count("site companion") == 6
    beside = [place for place, purpose in enumerate(purposes) if purpose == "site companion"]
    assert [column(sheet, "curing")[place] for place in beside] == ["site"] * 6
    assert [column(sheet, "age, h")[place] for place in beside] == [6] * 3 + [24] * 3
    assert [column(sheet, "trial batch")[place] for place in beside] == ["trial-1"] * 6


def test_instrumented_specimens_are_marked_and_cannot_be_entered() -> None:
    sheet = plain_book()["Specimens"]
    rows = [place for place, purpose in enumerate(column(sheet, "purpose"), start=2) if "instrumented" in str(purpose)]
    assert len(rows) == 2
    refusing = [rule for rule in sheet.data_validations.dataValidation if rule.type == "custom"]
    assert refusing[0].formula1 == "FALSE"
    for row in rows:
        assert "DO NOT BREAK" in str(sheet.cell(row, 4).value)
        assert f"M{row}" in refusing[0].sqref
        assert sheet[f"R{row}"].value is None


def test_a_maturity_in_degree_hours_can_be_entered() -> None:
    rules = plain_book()["Specimens"].data_validations.dataValidation
    (rule,) = [rule for rule in rules if str(rule.error).startswith("Maturity")]
    assert float(rule.formula1) > 0
    assert float(rule.formula2) > 91 * 24 * (60 + 15)  # three months at 60 C over a datum of -15 C


def test_windows_are_dated_with_a_casting_and_ages_without() -> None:
    advice = invented_recommendation()
    times = break_times(advice.recommended.schedule, LABORATORY, cast_at=dt.datetime(2027, 3, 1, 22))
    dated = opened(advice, castings=[times])["Specimens"]
    assert column(dated, "due")[0] == dt.datetime(2027, 3, 2, 4, 0)
    assert column(dated, "not after")[6] == dt.datetime(2027, 3, 2, 22, 30)
    undated = opened(advice)["Specimens"]
    assert column(undated, "due")[0] is None
    assert column(undated, "not before")[6] == "age 23.50 h"


def test_trial_batches_have_registers_of_their_own() -> None:
    programme = ProgrammeSettings(instrumented=1, trial_batches=2)
    sheet = opened(invented_recommendation(), replace(SETTINGS, programme=programme))["Specimens"]
    assert set(column(sheet, "trial batch")) == {"trial-1", "trial-2"}
    assert len(set(column(sheet, "label"))) == 2 * 12


def test_without_programme_prices_and_laboratory_it_is_still_a_workbook() -> None:
    book = opened(bare_recommendation(), BARE_SETTINGS)
    assert len(column(book["Specimens"], "label")) == 11
    assert "no prices" in str(book["Cost"]["A1"].value)


def test_cost_lines_are_live_and_an_open_price_is_told() -> None:
    sheet = plain_book()["Cost"]
    assert [cell.value for cell in sheet[1]][:4] == ["item", "quantity", "price, EUR", "amount, EUR"]
    assert sheet["D2"].value == "=B2*C2"
    sums = {row[0].value: row[3] for row in sheet.iter_rows(min_row=2) if not row[1].value}
    calibration, beside, total = (sums[name] for name in ("calibration", "checks and pours", "total"))
    assert calibration.value == f"=SUM(D2:D{calibration.row - 1})"
    assert beside.value == f"=SUM(D{calibration.row + 1}:D{beside.row - 1})"
    assert total.value == f"={calibration.coordinate}+{beside.coordinate}"
    open_lines = [row for row in sheet.iter_rows(min_row=2, values_only=True) if row[4]]
    assert [row[0] for row in open_lines if row[0] == "end preparation"] == ["end preparation"]


def test_breaks_and_temperatures_have_the_headings_that_a_plan_reads() -> None:
    book = plain_book()
    assert {cell.value for cell in book["Breaks"][1]} >= {
        *("batch", "mix", "specimen", "geometry", "curing", "age_h", "strength_mpa", "void")
    }
    assert [cell.value for cell in book["Temperatures"][1]] == [
        *("batch", "curing", "elapsed_h", "temperature_c", "sensor", "placement")
    ]


@pytest.mark.parametrize("name", [*HOSTILE_NAMES, "=1+1", "+1", "-1", "@SUM(A1)", "\t=1+1", "'=1"])
def test_user_text_is_never_a_formula(name: str) -> None:
    advice = invented_recommendation(batches=(name,) * 6, title=name)
    advice = replace(advice, valid_for=replace(advice.valid_for, mix=name, geometry=name), currency=name)
    settings = replace(SETTINGS, costs=replace(SETTINGS.costs, currency=name))  # type: ignore[type-var]
    book, plain = opened(advice, settings), plain_book()
    for sheet in book.worksheets:
        twin = plain[sheet.title]
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f" and sheet.title != "Specimens":
                    assert cell.value == twin[cell.coordinate].value
                if cell.data_type == "f":
                    assert "1+1" not in str(cell.value)
                    assert "HYPERLINK" not in str(cell.value)


def test_text_that_begins_like_a_formula_is_kept_and_marked() -> None:
    cell = Workbook().worksheets[0]["A1"]
    put_text(cell, "=HYPERLINK(1)")
    assert (cell.value, cell.data_type, cell.quotePrefix) == ("=HYPERLINK(1)", "s", True)


@pytest.mark.parametrize(
    ("geometry", "expected"),
    [
        ("cylinder 100x200 mm", 7853.98),
        ("cube 150 mm", 22_500.0),
        ("cube 100x100x100 mm", 10_000.0),
        ("prism 40x40x160 mm", None),
        ("", None),
    ],
)
def test_pressed_area(geometry: str, expected: float | None) -> None:
    assert pressed_area_mm2(geometry) == (pytest.approx(expected, abs=0.01) if expected else None)


def test_companions_are_judged_by_the_standard_or_else_by_the_records() -> None:
    advice = invented_recommendation()
    assert within_test_cv(advice, 6.0) == 0.032  # ASTM C39, 100x200 mm, from memory
    cubes = replace(advice, valid_for=replace(advice.valid_for, geometry="cube 100 mm"))
    assert within_test_cv(cubes, 6.0) == 0.032  # EN 12390-3, from memory
    cubes = replace(advice, valid_for=replace(advice.valid_for, geometry="cube 50 mm"))
    assert within_test_cv(cubes, 7.0) == 0.055
    assert within_test_cv(cubes, 600.0) == 0.03


def test_a_second_calibration_bears_the_next_free_name() -> None:
    advice = invented_recommendation(batches=("trial-1", "B2", "B3", "trial-3"))
    labels = column(opened(advice)["Specimens"], "trial batch")
    assert {label for label in labels if str(label).startswith("trial")} == {"trial-2"}


def test_companions_on_site_have_their_own_due_times() -> None:
    times = break_times(
        invented_recommendation().recommended.schedule,
        Laboratory(time_zone="Europe/Oslo"),
        cast_at=dt.datetime(2027, 3, 27, 22, 0),
    )
    book = load_workbook(io.BytesIO(render_workbook(invented_recommendation(), SETTINGS, castings=(times,))))
    sheet = book["Specimens"]
    beside = [place for place, purpose in enumerate(column(sheet, "purpose")) if purpose == "site companion"]
    due = [column(sheet, "due")[place] for place in beside]
    # the clocks go forward in the night of 28 March 2027: 6 h after 22:00 it is 05:00, a day after it 23:00
    assert due == [dt.datetime(2027, 3, 28, 5, 0)] * 3 + [dt.datetime(2027, 3, 28, 23, 0)] * 3


def test_the_register_prints_on_one_page_width_with_all_that_is_entered_at_the_machine() -> None:
    sheet = load_workbook(io.BytesIO(render_workbook(invented_recommendation(), SETTINGS)))["Specimens"]
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
    area = sheet.print_area.replace("'Specimens'!", "").replace("$", "")
    printed = [cell.value for cell in sheet[area][0]]
    assert printed[0] == "label"
    assert {"due", "load, kN", "actual age, h", "fracture type", "remarks", "void, reason"} <= set(printed)
    assert area.split(":")[1] == f"Q{sheet.max_row}"


def test_the_summary_names_the_command_that_issues_the_curve_with_its_castings() -> None:
    one, last = dt.datetime(2027, 3, 1, 22, 0), dt.datetime(2027, 3, 2, 4, 30)
    advice = replace(invented_recommendation(), inputs={"my plan.toml": "sha256:0", "breaks.csv": "sha256:1"})

    def said(*castings: tuple[dt.datetime, dt.datetime]) -> str:
        sheet = opened(advice, replace(SETTINGS, castings=castings))["Summary"]
        (line,) = [str(cell.value) for cell in sheet["A"] if "--trial" in str(cell.value)]
        return line

    command = 'After the last break: test-ages curve "my plan.toml" --trial workbook.xlsx --out issued'
    assert said() == command
    assert said((one, one)) == f'{command} --cast "2027-03-01 22:00"'
    assert said((one, last)) == f'{command} --cast "2027-03-01 22:00/2027-03-02 04:30"'
