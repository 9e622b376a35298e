"""The register: a row for each specimen to be made, with cells for what is measured and live range checks."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from openpyxl.styles import Alignment
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from planner.report.accounts.clock.slip_account import hours_text
from planner.report.sheets.break_rows import SITE_COMPANION, SpecimenRow, pressed_area_mm2
from planner.report.sheets.measured import LAST, area_formula, measured_columns, open_measured, validate_measured
from planner.report.sheets.register_units import register_units
from planner.report.sheets.sheet_cells import (
    BOX,
    DATE_TIME,
    INPUT,
    PERCENT,
    PLACES_2,
    WARNING,
    between,
    one_of,
    put_formula,
    put_headings,
    put_number,
    put_text,
    set_up_print,
    set_widths,
)
from planner.terms.labels import age_label, clock_label
from planner.terms.plan.precision import RANGE_MULTIPLIERS, stated_precision
from planner.terms.plan.third_specimen import third_specimen_rule
from planner.terms.records import CURINGS
from planner.terms.results.recommended.recommendation import Recommendation

NAME = "Specimens"
LAST_PRINTED = "Q"
INPUT_COLUMNS = "LMNOPQ"
FRACTURE_TYPES = ("1", "2", "3", "4", "5", "6")  # ASTM C39, from memory
TIME = "%H:%M"
NOT_BROKEN = "DO NOT BREAK"
ROW_HEIGHT = 18.0  # room for a pen
# Range of replicates as a multiple of their coefficient of variation that 95 of 100 sets keep:
# ASTM C670, 2, 3 and 4 or more replicates (2.772, 3.314, 3.633 as studentised ranges, derived).
MULTIPLIERS = ",".join(f"{RANGE_MULTIPLIERS[n]:g}" for n in (2, 3, 4))  # of the acceptable range, by replicates


def register_columns() -> tuple[tuple[str, float], ...]:
    """Headings with their widths, in the units asked for."""
    units = register_units()
    return (
        ("label", 21.0),  # A
        ("trial batch", 11.0),  # B
        ("mix", 13.0),  # C
        ("purpose", 15.0),  # D
        ("geometry", 20.0),  # E
        ("curing", 10.0),  # F
        ("age", 8.0),  # G
        ("age, h", 8.0),  # H
        ("due", 20.0),  # I
        ("not before", 20.0),  # J
        ("not after", 20.0),  # K
        (f"load, {units.load}", 9.0),  # L
        (f"strength, {units.strength}", 10.0),  # M
        ("actual age, h", 10.0),  # N
        ("fracture type", 10.0),  # O
        ("remarks", 18.0),  # P
        ("void, reason", 16.0),  # Q
        (f"strength used, {units.strength}", 10.0),  # R
        ("range of the mean", 10.0),  # S
        ("acceptable", 11.0),  # T
        ("replicates", 25.0),  # U
        ("may slip earlier, h", 10.0),  # V
        ("may slip later, h", 10.0),  # W
        ("planned time", 66.0),  # X
        *measured_columns(),  # Y to AD
    )


def fill_specimens(sheet: Worksheet, advice: Recommendation, rows: Sequence[SpecimenRow]) -> None:
    """Write the register."""
    put_headings(sheet, [heading for heading, _ in register_columns()])
    set_widths(sheet, [width for _, width in register_columns()])
    area = pressed_area_mm2(advice.valid_for.geometry)
    for place, row in enumerate(rows, start=2):
        _describe(sheet, place, row, advice)
        if row.is_broken:
            _open_for_entry(sheet, place, area_formula(place, advice.valid_for.geometry, area))
            open_measured(sheet, place, advice.valid_for.geometry, last_row=len(rows) + 1)
    third = third_specimen_rule(advice.valid_for.geometry).most_range
    for first, last, age_h in _replicate_sets(rows):
        _check_range(sheet, first, last, cv=within_test_cv(advice, age_h), third=third)
    _validate(sheet, rows)
    validate_measured(sheet, [place for place, row in enumerate(rows, start=2) if row.is_broken])
    sheet.auto_filter.ref = f"A1:{LAST}{len(rows) + 1}"
    sheet.freeze_panes = "B2"
    sheet.print_area = f"A1:{LAST_PRINTED}{len(rows) + 1}"  # on one page; the rest is worked out or entered on screen
    set_up_print(sheet, is_landscape=True)


def within_test_cv(advice: Recommendation, age_h: float) -> float | None:
    """The scatter that replicates are judged by: the precision stated for the geometry, else the records'."""
    stated = stated_precision(advice.valid_for.geometry)
    if stated is not None:
        return stated.within_test_cv
    scatter = advice.evidence.scatter_by_age
    return min(scatter, key=lambda pair: abs(pair[0] - age_h))[1] if scatter else None


def _describe(sheet: Worksheet, place: int, row: SpecimenRow, advice: Recommendation) -> None:
    texts = (
        row.label,
        row.batch,
        advice.valid_for.mix,
        row.purpose if row.is_broken else f"{row.purpose}: {NOT_BROKEN}",
        advice.valid_for.geometry,
        row.curing,
        age_label(row.age_h) if row.age_h is not None else "",
    )
    for column, text in enumerate(texts, start=1):
        put_text(sheet.cell(place, column), text)
        if not row.is_broken:
            sheet.cell(place, column).font = WARNING
            sheet.cell(place, column).alignment = Alignment(wrap_text=True, vertical="top")
    sheet.row_dimensions[place].height = ROW_HEIGHT if row.is_broken else 2 * ROW_HEIGHT
    put_number(sheet.cell(place, 8), row.age_h)
    sheet.cell(place, 8).alignment = Alignment(horizontal="center")
    clocks = ((9, row.due_at, None), (10, row.earliest_at, row.earliest_h), (11, row.latest_at, row.latest_h))
    for column, clock, hours in clocks:
        cell = sheet.cell(place, column)
        cell.alignment = Alignment(horizontal="left")
        if clock is not None:
            cell.value = clock.replace(tzinfo=None)  # spreadsheets know no zone
            cell.number_format = DATE_TIME
        elif hours is not None:
            put_text(cell, f"age {hours:.2f} h")
    if row.slip is not None:
        put_number(sheet.cell(place, 22), float(hours_text(row.slip.earlier_h)), PLACES_2)
        put_number(sheet.cell(place, 23), float(hours_text(row.slip.later_h)), PLACES_2)
    notes = [text for text in (row.moved, _twice_words(row)) if text]
    if notes:
        put_text(sheet.cell(place, 24), "; ".join(notes))


def _twice_words(row: SpecimenRow) -> str:
    """Which of its times come twice, the night the clocks go back, with the offset that a spreadsheet cannot hold."""
    clocks = (("due", row.due_at), ("not before", row.earliest_at), ("not after", row.latest_at))
    labels = [(name, clock_label(at, TIME), at.strftime(TIME)) for name, at in clocks if at is not None]
    said = ", ".join(f"{name} {label}" for name, label, shown in labels if label != shown)
    return f"an hour that comes twice: {said}" if said else ""


def _open_for_entry(sheet: Worksheet, place: int, area: str | None) -> None:
    for column in INPUT_COLUMNS:
        sheet[f"{column}{place}"].fill = INPUT
        sheet[f"{column}{place}"].border = BOX
    units = register_units()
    strength = f"ROUND(L{place}*{units.strength_per_load}/({area}),{units.strength_places})"
    from_load = f'IF(L{place}<>"",{strength},"")' if area else '""'
    put_formula(sheet[f"R{place}"], f'=IF(Q{place}<>"","",IF(M{place}<>"",M{place},{from_load}))', PLACES_2)


def _replicate_sets(rows: Sequence[SpecimenRow]) -> list[tuple[int, int, float]]:
    """First row, last row and age of each set of replicates."""
    sets = []
    place = 2
    for (_, purpose, age_h), found in groupby(rows, key=lambda row: (row.batch, row.purpose, row.age_h)):
        count = len(list(found))
        if purpose in ("break", SITE_COMPANION) and age_h is not None and count > 1:
            sets.append((place, place + count - 1, age_h))
        place += count
    return sets


def _check_range(sheet: Worksheet, first: int, last: int, *, cv: float | None, third: float) -> None:
    """Write the range of replicates and what it asks for: of two a third, of more a cause."""
    used = f"R{first}:R{last}"
    spread = f"(MAX({used})-MIN({used}))/AVERAGE({used})"
    put_formula(sheet[f"S{first}"], f'=IF(COUNT({used})<2,"",{spread})', PERCENT)
    judged = '""'
    if cv is not None:
        multiplier = f"CHOOSE(MIN(COUNT({used}),4)-1,{MULTIPLIERS})"
        put_formula(sheet[f"T{first}"], f'=IF(COUNT({used})<2,"",{multiplier}*{cv:.5f})', PERCENT)
        judged = f'IF(S{first}>T{first},"beyond it: look for a cause","within the acceptable range")'
    is_third_due = f"AND(COUNT({used})=2,S{first}>{third:.5f})"
    put_formula(sheet[f"U{first}"], f'=IF(S{first}="","",IF({is_third_due},"break a third",{judged}))')


def _validate(sheet: Worksheet, rows: Sequence[SpecimenRow]) -> None:
    units = register_units()
    rules = {
        "L": between(0.1, units.most_load, f"Load in {units.load}, above 0 and below {units.most_load:,.0f}."),
        "M": between(
            0.1, units.most_strength, f"Strength in {units.strength}, above 0 and below {units.most_strength:,.0f}."
        ),
        "N": between(0.1, 20_000, "Age at the break in hours, above 0 and below 20,000."),
        "O": one_of(FRACTURE_TYPES, "Fracture type 1 to 6."),
        "F": one_of(CURINGS, "One of: " + ", ".join(CURINGS) + "."),
    }
    never = DataValidation(type="custom", formula1="FALSE", allow_blank=True)
    never.error = "This specimen carries a temperature sensor and is not to be broken."
    never.errorTitle = "Not to be broken"
    for place, row in enumerate(rows, start=2):
        for column, rule in rules.items():
            (rule if row.is_broken or column == "F" else never).add(f"{column}{place}")
    for rule in (*rules.values(), never):
        if rule.sqref:
            sheet.add_data_validation(rule)
