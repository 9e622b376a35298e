"""A table as it stands in a file: headings, cells and the row numbers a spreadsheet shows."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from planner.read.parsing.findings import Findings
from planner.read.tabular.age_headings import match_age_heading
from planner.read.tabular.headings import n_known_headings

Cell: TypeAlias = str | float | int | bool | dt.datetime | dt.date | dt.time | dt.timedelta | None

MOST_ROWS = 2_000_000
MOST_COLUMNS = 2_000
HEADER_SOUGHT_IN = 30  # rows; exports put a title or two above the headings


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Cells by column. Blank rows are gone, the row numbers remember them."""

    file: str  # as the user wrote it
    headings: tuple[str, ...]  # as they stand in the file
    columns: tuple[Sequence[Cell], ...]  # one a heading, equally long
    row_numbers: Sequence[int]  # as a spreadsheet numbers them
    is_comma_decimal: bool = False  # the file separates by semicolons, so a comma is a decimal comma
    sheet: str = ""

    @property
    def n_rows(self) -> int:
        return len(self.row_numbers)


def is_blank(cell: Cell) -> bool:
    """Tell whether a cell holds nothing."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def text_of(cell: Cell) -> str:
    """Write a cell as a label: trimmed text, whole numbers without a decimal point."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return " ".join(str(cell).split())


def header_position(rows: Sequence[Sequence[Cell]], known: Iterable[str]) -> int | None:
    """Find the row of headings: of the first rows the one with most known headings, else the first filled.

    Parameters
    ----------
    rows
        The first rows of the file, blank ones included.
    known
        Normalised headings that the reader knows, synonyms included.
    """
    best, best_count = None, -1
    names = frozenset(known)
    for position, row in enumerate(rows[:HEADER_SOUGHT_IN]):
        if all(is_blank(cell) for cell in row):
            continue
        count = n_known_headings((text_of(cell) for cell in row), names)
        if count > best_count:
            best, best_count = position, count
    return best


def build_table(
    file: str,
    rows: Sequence[Sequence[Cell]],
    findings: Findings,
    *,
    known: Iterable[str],
    first_row: int = 1,
    is_comma_decimal: bool = False,
    sheet: str = "",
) -> Table | None:
    """Make a table of rows, or None where they hold none; says why in the findings."""
    top = header_position(rows, known)
    if top is None:
        findings.problem(file, "The file holds no rows. Give a row of headings and the records below it.")
        return None
    headings = [text_of(cell) for cell in rows[top]]
    while headings and not headings[-1]:
        headings.pop()
    if headings and match_age_heading(headings[-1]):
        # Beside the last age across a sheet, columns without a heading are more specimens of that age.
        headings += [""] * (max(map(len, rows[top + 1 :]), default=0) - len(headings))
    n_columns = len(headings)
    body = rows[top + 1 :]
    is_even = _is_even(body, n_columns)
    numbers: Sequence[int] = range(first_row + top + 1, first_row + top + 1 + len(body))
    kept, crowded = body, False
    if not is_even:
        n_before = len(findings.problems)
        numbers, kept = _fitted(file, body, numbers, n_columns, findings)
        crowded = len(findings.problems) > n_before
    if not kept:
        if not crowded:
            findings.problem(file, "There are headings but no rows below them. Give at least one record.")
        return None
    columns = tuple(zip(*kept, strict=True))
    return Table(file, tuple(headings), columns, numbers, is_comma_decimal, sheet)


def _is_even(body: Sequence[Sequence[Cell]], n_columns: int) -> bool:
    """Tell whether every row is as wide as the headings and none can be blank."""
    return (
        bool(body)
        and n_columns > 0
        and set(map(len, body)) == {n_columns}
        and not any(map(is_blank, {row[0] for row in body}))
    )


def _fitted(
    file: str, body: Sequence[Sequence[Cell]], numbers: Sequence[int], n_columns: int, findings: Findings
) -> tuple[Sequence[int], Sequence[Sequence[Cell]]]:
    """Drop blank rows, fill short ones, and refuse those with cells beyond the headings."""
    kept_numbers: list[int] = []
    kept: list[Sequence[Cell]] = []
    crowded: list[tuple[int, str]] = []
    usual = Counter(map(len, body or [()])).most_common(1)[0][0]  # exports may end every row alike with blank cells
    for number, row in zip(numbers, body, strict=True):
        if not row or (is_blank(row[0]) and all(is_blank(cell) for cell in row)):
            continue
        if len(row) != n_columns:
            if len(row) > max(n_columns, usual) or not all(is_blank(cell) for cell in row[n_columns:]):
                crowded.append((number, _too_many(len(row), n_columns)))
                continue
            row = [*row[:n_columns], *[None] * (n_columns - len(row))]
        kept_numbers.append(number)
        kept.append(row)
    findings.rows(file, None, crowded)
    return kept_numbers, kept


def _too_many(n_cells: int, n_columns: int) -> str:
    return (
        f"The row has {n_cells} cells but there are {n_columns} headings. Where commas are decimal commas, "
        "separate the columns with semicolons, or put such numbers in quotes."
    )
