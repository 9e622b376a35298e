"""Break sheets with one row a batch and the ages across, into one row a specimen."""

from __future__ import annotations

import re
from dataclasses import dataclass

from planner.read.breaks.break_columns import AGE_COLUMNS, BREAK_COLUMNS, LOAD_COLUMNS, STRENGTH_COLUMNS
from planner.read.parsing.findings import Findings
from planner.read.parsing.quantities import parse_duration
from planner.read.tabular.age_headings import match_age_heading
from planner.read.tabular.cell_table import Cell, Table, is_blank, text_of
from planner.read.tabular.headings import match_headings
from planner.terms.labels import listed

_COUNTER = re.compile(r"\s*(?:#|no\.?|specimen)?\s*(?:\d{1,2}|[a-z])\s*\Z", re.IGNORECASE)
FEWEST_AGES = 2  # across, or the sheet is no wide one


@dataclass(frozen=True, slots=True)
class _AgeColumn:
    position: int
    age: str  # "12 h"
    unit: str  # "" where the heading names none


def is_wide(headings: tuple[str, ...]) -> bool:
    """Tell whether a sheet has the ages across."""
    names = match_headings("", headings, BREAK_COLUMNS, Findings())
    has_long = any(name in names for name in (*AGE_COLUMNS, *STRENGTH_COLUMNS, *LOAD_COLUMNS))
    ages = {column.age for column in _age_columns(headings)}
    return "batch" in names and not has_long and len(ages) >= FEWEST_AGES


def lengthen(table: Table, findings: Findings) -> Table | None:
    """Turn a wide sheet into a long one; blank cells are specimens that never were.

    Returns
    -------
    Table or None
        None, with the reason in the findings, where units differ across the sheet.
    """
    columns = _age_columns(table.headings)
    units = sorted({column.unit for column in columns if column.unit})
    if len(units) > 1:
        findings.problem(
            table.file, f"The ages across the sheet are in different units ({listed(units)}). Use one unit."
        )
        return None
    across = {column.position for column in columns}
    kept = [position for position, heading in enumerate(table.headings) if position not in across and heading]
    rows = [row for row in range(table.n_rows) if not _is_counter_row(table, row, kept, columns)]
    long_rows: list[list[Cell]] = []
    numbers: list[int] = []
    for row in rows:
        for column in columns:
            cell = table.columns[column.position][row]
            if not is_blank(cell):
                long_rows.append([*(table.columns[place][row] for place in kept), column.age, cell])
                numbers.append(table.row_numbers[row])
    unit = units[0] if units else "mpa"
    headings = (*(table.headings[place] for place in kept), "age", f"strength_{unit}")
    if not long_rows:
        findings.problem(table.file, "There is no strength under any of the ages across the sheet.")
        return None
    _note(table, columns, long_rows, findings, is_assumed=not units)
    cells = tuple(zip(*long_rows, strict=True))
    return Table(table.file, headings, cells, numbers, table.is_comma_decimal, table.sheet)


def _age_columns(headings: tuple[str, ...]) -> list[_AgeColumn]:
    """Find the age columns; a blank heading beside one is another specimen of that age."""
    columns: list[_AgeColumn] = []
    for position, heading in enumerate(headings):
        found = match_age_heading(heading)
        if found:
            columns.append(_AgeColumn(position, _age_text(found["age"]), _unit(found)))
        elif not heading and columns and columns[-1].position == position - 1:
            columns.append(_AgeColumn(position, columns[-1].age, columns[-1].unit))
    return columns


def _age_text(text: str) -> str:
    hours = parse_duration(text.replace("-", " "))
    return f"{hours:.10g} h"


def _unit(match: re.Match[str]) -> str:
    unit = (match["unit"] or match["late_unit"] or "").lower()
    return "mpa" if unit.startswith("n/") else unit


def _is_counter_row(table: Table, row: int, kept: list[int], columns: list[_AgeColumn]) -> bool:
    """Tell whether a row only numbers the specimens under their ages: a second row of headings."""
    if row > 0 or any(not is_blank(table.columns[place][row]) for place in kept):
        return False
    words = [text_of(table.columns[column.position][row]) for column in columns]
    return all(_COUNTER.match(word) for word in words if word)


def _note(
    table: Table,
    columns: list[_AgeColumn],
    long_rows: list[list[Cell]],
    findings: Findings,
    *,
    is_assumed: bool,
) -> None:
    ages = dict.fromkeys(column.age for column in columns)
    unit = " The headings name no unit; MPa is assumed." if is_assumed else ""
    findings.caution(
        "wide-sheet",
        f"{table.file} has its ages across; it is read as {len(long_rows)} breaks at {listed(ages, most=12)}."
        f"{unit} Write the long form out and look at it before using it.",
    )
