"""The breaks in the very layout that a plan reads back. The row of a specimen not broken yet stays blank."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from planner.report.sheets.register_units import register_units
from planner.report.sheets.sheet_cells import put_formula, put_headings, set_up_print, set_widths
from planner.report.sheets.specimens import NAME as REGISTER

NAME = "Breaks"
# heading here, column of the register
COLUMNS: tuple[tuple[str, str], ...] = (
    ("batch", "B"),
    ("mix", "C"),
    ("specimen", "A"),
    ("geometry", "E"),
    ("curing", "F"),
    ("age_h", "H"),
    ("tested_h", "N"),
    ("strength_mpa", "R"),
    ("void", "Q"),
    ("fracture", "O"),
    ("remarks", "P"),
    ("end_preparation", "AC"),
    ("mass_g", "Z"),
    ("maturity", "AD"),
)


def fill_breaks(sheet: Worksheet, n_specimens: int) -> None:
    """Write a row of references for each specimen of the register.

    A specimen counts as broken once its strength or load is entered, void or not. The actual age falls back
    on the nominal one.
    """
    units = register_units()
    own = {"strength_mpa": units.strength_column, "mass_g": units.mass_column}
    put_headings(sheet, [own.get(heading, heading) for heading, _ in COLUMNS])
    set_widths(sheet, (12.0, 18.0, 16.0, 22.0, 11.0, 8.0, 9.0, 13.0, 16.0, 9.0, 24.0, 13.0, 9.0, 10.0))
    for row in range(2, n_specimens + 2):
        is_broken = f'OR({REGISTER}!$L{row}<>"",{REGISTER}!$M{row}<>"")'
        for column, (heading, source) in enumerate(COLUMNS, start=1):
            value = _value(heading, f"{REGISTER}!${source}{row}", row)
            put_formula(sheet.cell(row, column), f'=IF({is_broken},{value},"")')
    set_up_print(sheet, is_landscape=True)


def _value(heading: str, source: str, row: int) -> str:
    if heading == "tested_h":
        return f'IF({source}<>"",{source},{REGISTER}!$H{row})'
    if heading == "age_h":
        return f'IF({source}<>"",{source},{REGISTER}!$N{row})'
    if heading == "strength_mpa":  # a void break keeps its strength in the record
        return f'IF({source}<>"",{source},IF({REGISTER}!$M{row}<>"",{REGISTER}!$M{row},""))'
    return f'IF({source}<>"",{source},"")'
