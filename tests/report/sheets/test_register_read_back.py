"""The register and its breaks, column by column in both units: headings, formulas, formats, rules of entry."""

from __future__ import annotations

import datetime as dt
import io
import re
from dataclasses import replace
from functools import cache

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from planner.laboratory.clock.break_times import break_times
from planner.report.accounts.clock.window_account import expected_words
from planner.report.documents.workbook import render_workbook
from planner.report.text.shown_units import shown_in
from planner.terms.plan.shown_as import ShownAs
from tests.report.documents.test_waits_read_back import advice as waiting_advice
from tests.report.invented_result import invented_recommendation
from tests.report.sheets.test_workbook import LABORATORY, SETTINGS
from tests.report.sheets.test_workbook_read_back import book_made

CAST_AT = dt.datetime(2027, 3, 1, 22, 0)
OWN = {  # load, strength, size, mass, density; headings of Breaks and Temperatures
    "SI": ("kN", "MPa", "mm", "g", "kg/m3", "strength_mpa", "mass_g", "temperature_c"),
    "US": ("lbf", "psi", "in", "lb", "lb/ft3", "strength_psi", "mass_lb", "temperature_f"),
}
EVERY = pytest.mark.parametrize("units", OWN)


@cache
def book(units: str) -> Workbook:
    """Cast on a Monday at 22:00 with hours from 7 to 17: the break at 28 d is moved into them."""
    advice = invented_recommendation()
    times = break_times(advice.recommended.schedule, LABORATORY, cast_at=CAST_AT)
    with shown_in(ShownAs(units="US" if units == "US" else "SI")):
        return load_workbook(io.BytesIO(render_workbook(advice, SETTINGS, castings=(times,))))


def letters(sheet: Worksheet) -> dict[str, str]:
    """The column of every heading."""
    return {str(cell.value): cell.column_letter for cell in sheet[1] if cell.value is not None}


def formula(sheet: Worksheet, heading: str, row: int = 2) -> str:
    return str(sheet[f"{letters(sheet)[heading]}{row}"].value)


@EVERY
def test_headings_of_the_register(units: str) -> None:
    load, strength, size, mass, density, *_ = OWN[units]
    assert list(letters(book(units)["Specimens"])) == [
        "label", "trial batch", "mix", "purpose", "geometry", "curing", "age", "age, h", "due", "not before",
        "not after", f"load, {load}", f"strength, {strength}", "actual age, h", "fracture type", "remarks",
        "void, reason", f"strength used, {strength}", "range of the mean", "acceptable", "replicates",
        "may slip earlier, h", "may slip later, h", "planned time", f"measured diameter or side, {size}",
        f"mass, {mass}", f"density, {density}", "density against its batch", "end preparation", "maturity at break",
    ]  # fmt: skip


@EVERY
def test_every_column_of_the_breaks_takes_its_own_of_the_register(units: str) -> None:
    _, strength, _, mass, _, strength_column, mass_column, temperature_column = OWN[units]
    own = {
        "batch": "trial batch", "mix": "mix", "specimen": "label", "geometry": "geometry", "curing": "curing",
        "age_h": "age, h", "tested_h": "actual age, h", strength_column: f"strength used, {strength}",
        "void": "void, reason", "fracture": "fracture type", "remarks": "remarks",
        "end_preparation": "end preparation", mass_column: f"mass, {mass}", "maturity": "maturity at break",
    }  # fmt: skip
    register, sheet = letters(book(units)["Specimens"]), book(units)["Breaks"]
    assert list(letters(sheet)) == list(own)
    entered = [register[f"{what}, {unit}"] for what, unit in (("load", OWN[units][0]), ("strength", strength))]
    falls_back = {"tested_h": register["age, h"], "age_h": register["actual age, h"]}
    for row in (2, 3):
        is_broken = ",".join(f'Specimens!${letter}{row}<>""' for letter in entered)
        for heading, source in own.items():
            cell = f"Specimens!${register[source]}{row}"
            otherwise = f"Specimens!${falls_back[heading]}{row}" if heading in falls_back else '""'
            if heading == strength_column:  # a void break keeps the strength that was entered
                held = f"Specimens!${entered[1]}{row}"
                otherwise = f'IF({held}<>"",{held},"")'
            assert formula(sheet, heading, row) == f'=IF(OR({is_broken}),IF({cell}<>"",{cell},{otherwise}),"")'
    readings = [cell.value for cell in book(units)["Temperatures"][1]]
    assert readings == ["batch", "curing", "elapsed_h", temperature_column, "sensor", "placement"]


@EVERY
def test_strength_and_density_follow_in_the_units_of_the_headings(units: str) -> None:
    """By hand for a cylinder of 100 x 200 mm, which is 3.937 x 7.874 in."""
    load, strength, size, mass, density, *_ = OWN[units]
    sheet = book(units)["Specimens"]
    at = letters(sheet)
    cells = {name: f"{at[f'{name}, {unit}']}2" for name, unit in (("load", load), ("mass", mass))}
    across, void, entered = (
        f"{at[f'measured diameter or side, {size}']}2",
        f"{at['void, reason']}2",
        f"{at[f'strength, {strength}']}2",
    )
    area, volume, per_load, per_mass, places = {
        "SI": (7853.98, 1_570_796.3, 1000, 1_000_000, 2), "US": (12.1737, 95.9, 1, 1728, 0)
    }[units]  # fmt: skip
    used = formula(sheet, f"strength used, {strength}")
    found = re.fullmatch(
        rf'=IF\({void}<>"","",IF\({entered}<>"",{entered},IF\({cells["load"]}<>"",'
        rf'ROUND\({cells["load"]}\*{per_load}/\(IF\({across}<>"",PI\(\)/4\*{across}\^2,([\d.]+)\)\),{places}\),""\)\)\)',
        used,
    )
    assert found is not None, used
    assert float(found[1]) == pytest.approx(area, rel=1e-5)
    told = formula(sheet, f"density, {density}")
    found = re.fullmatch(
        rf'=IF\({cells["mass"]}<>"",ROUND\({cells["mass"]}\*{per_mass}/\(IF\({across}<>"",PI\(\)/4\*{across}\^2\*'
        r'([\d.]+),([\d.]+)\)\),0\),""\)',
        told,
    )
    assert found is not None, told
    assert float(found[1]) == pytest.approx(200.0 if units == "SI" else 200.0 / 25.4, rel=1e-4)
    assert float(found[2]) == pytest.approx(volume, rel=1e-3)
    assert f"{at[f'density, {density}']}2/AVERAGEIF(" in formula(sheet, "density against its batch")
    assert formula(sheet, "density against its batch").endswith('-1,"")')


@EVERY
def test_formats_of_what_is_worked_out(units: str) -> None:
    sheet = book(units)["Specimens"]
    at = letters(sheet)
    shown = {
        f"strength used, {OWN[units][1]}": "0.00", "range of the mean": "0.0 %", "acceptable": "0.0 %",
        f"density, {OWN[units][4]}": "0", "density against its batch": "0.0 %", "may slip earlier, h": "0.00",
        "may slip later, h": "0.00", "due": "ddd d mmm yyyy hh:mm", "not before": "ddd d mmm yyyy hh:mm",
        "not after": "ddd d mmm yyyy hh:mm",
    }  # fmt: skip
    assert {heading: sheet[f"{at[heading]}2"].number_format for heading in shown} == shown
    # ranges of 2, 3 and 4 replicates that 95 of 100 sets keep, in coefficients of variation
    assert "CHOOSE(MIN(COUNT(" in formula(sheet, "acceptable")
    assert re.search(r"-1,2\.8,3\.3,3\.6\)", formula(sheet, "acceptable")) is not None


@EVERY
def test_rules_of_entry_stand_under_their_headings(units: str) -> None:
    load, strength, size, mass, *_ = OWN[units]
    limits = {
        "SI": {"load": 10_000, "strength": 300, "size": (20, 500), "mass": 200_000, "temperature": 110},
        "US": {"load": 2_250_000, "strength": 43_500, "size": (0.8, 20), "mass": 440, "temperature": 230},
    }[units]
    sheet = book(units)["Specimens"]
    wanted = {
        f"load, {load}": (0.1, limits["load"]), f"strength, {strength}": (0.1, limits["strength"]),
        "actual age, h": (0.1, 20_000), f"measured diameter or side, {size}": limits["size"],
        f"mass, {mass}": (0.02, limits["mass"]), "maturity at break": (0.01, 1_000_000),
    }  # fmt: skip
    for heading, ends in wanted.items():
        place = f"{letters(sheet)[heading]}2"
        (rule,) = [rule for rule in sheet.data_validations.dataValidation if place in rule.sqref]
        assert (float(rule.formula1), float(rule.formula2)) == ends, heading
        unit = heading.partition(", ")[2]
        assert heading == "maturity at break" or (unit if unit != "h" else "hours") in str(rule.error)
    never = [rule for rule in sheet.data_validations.dataValidation if rule.type == "custom"]
    instrumented = [row[0].row for row in sheet.iter_rows(min_row=2) if "instrumented" in str(row[3].value)]
    for row in instrumented:
        for heading in (f"load, {load}", f"strength, {strength}", "actual age, h", "fracture type"):
            assert f"{letters(sheet)[heading]}{row}" in never[0].sqref
    readings = book(units)["Temperatures"]
    (rule,) = [rule for rule in readings.data_validations.dataValidation if "D2" in rule.sqref]
    assert (float(rule.formula1), float(rule.formula2)) == (-40, limits["temperature"])
    assert f"concrete in {'C' if units == 'SI' else 'F'}, " in str(rule.error)


def test_a_moved_break_is_due_when_it_starts_and_says_from_where() -> None:
    sheet = book("SI")["Specimens"]
    at = letters(sheet)
    rows = [row for row in range(2, sheet.max_row + 1) if sheet[f"{at['age']}{row}"].value == "28 d"]
    assert len(rows) == 2
    for row in rows:
        assert sheet[f"{at['due']}{row}"].value == dt.datetime(2027, 3, 29, 16, 40)
        assert sheet[f"{at['planned time']}{row}"].value == "moved into hours from Mon 29 Mar, 23:00"
        assert sheet[f"{at['remarks']}{row}"].value is None
    assert sheet[f"{at['planned time']}2"].value is None


def test_what_is_said_below_the_tables_of_figures() -> None:
    (note,) = [str(cell.value) for cell in book_made()["Programmes"]["A"] if str(cell.value).startswith("Fixed")]
    assert "judged on the later pour, on batches that had no part in fitting them" in note
    assert note.endswith("Costs, specimens and visits are of all trial batches together.")
    (note,) = [
        str(cell.value) for cell in book_made()["Compared schedules"]["A"] if str(cell.value).startswith("Errors")
    ]
    assert ", own batch, against true strength; not corrected for the search." in note


def test_the_summary_tells_of_every_casting_apart() -> None:
    """Two castings, the second after the breaks of the first: each has its own visits and warnings."""
    advice = waiting_advice()
    castings = [
        break_times(advice.recommended.schedule, LABORATORY, cast_at=cast_at, casting=name)
        for name, cast_at in (("A", CAST_AT), ("B", dt.datetime(2027, 3, 2, 7, 0)))
    ]
    assert castings[0].n_outside != castings[1].n_outside
    castings[1] = replace(castings[1], warnings=("The second is cast on a Tuesday.",))
    rows = list(
        load_workbook(io.BytesIO(render_workbook(advice, SETTINGS, castings=castings)))["Summary"].values
    )  # fmt: skip
    starts = [place for place, row in enumerate(rows) if str(row[0]).startswith("Cast 2027")]
    assert [rows[place][0] for place in starts] == ["Cast 2027-03-01 22:00", "Cast 2027-03-02 07:00"]
    for place, times in zip(starts, castings, strict=True):
        assert str(rows[place][1]).startswith(f"{times.n_visits} visits, {times.n_outside} outside hours")
        warned = [row[1] for row in rows[place + 1 : place + 1 + len(times.warnings)]]
        assert warned == list(times.warnings)
        after = place + 1 + len(times.warnings)
        expected = expected_words(advice.waiting, times)
        assert [row[:2] for row in rows[after : after + len(expected)]] == [
            ("To be expected", text) for text in expected
        ]
