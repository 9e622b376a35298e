"""Temperature readings in the layout that a plan reads back. Empty: the concrete is not cast yet."""

from __future__ import annotations

from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from planner.report.sheets.register_units import register_units
from planner.report.sheets.sheet_cells import INPUT, between, one_of, put_headings, set_up_print, set_widths
from planner.terms.records import CURINGS

NAME = "Temperatures"
COLUMNS = ("batch", "curing", "elapsed_h", "temperature_c", "sensor", "placement")
N_ROWS = 1000  # prepared; more may be pasted below


def fill_temperatures(sheet: Worksheet) -> None:
    """Write the headings, the rules and a stretch of shaded rows."""
    units = register_units()
    put_headings(sheet, [units.temperature_column if name == "temperature_c" else name for name in COLUMNS])
    set_widths(sheet, (14.0, 12.0, 12.0, 15.0, 12.0, 14.0))
    for row in range(2, 42):
        for column in range(1, len(COLUMNS) + 1):
            sheet.cell(row, column).fill = INPUT
    unit, most = ("F", 230) if units.temperature_column == "temperature_f" else ("C", 110)
    rules: tuple[tuple[str, DataValidation], ...] = (
        ("B", one_of(CURINGS, "One of: " + ", ".join(CURINGS) + ".")),
        ("C", between(0, 20_000, "Hours since casting, from 0 to 20,000.")),
        ("D", between(-40, most, f"Temperature inside the concrete in {unit}, from -40 to {most}.")),
    )
    for letter, rule in rules:
        sheet.add_data_validation(rule)
        rule.add(f"{letter}2:{letter}{N_ROWS + 1}")
    set_up_print(sheet, is_landscape=False)
