"""Tables as a reader has them on a page, a sheet or in a Word file, and whether a cell says a value.

No code of the program: what stands in a file is read by its headings alone, and a figure is held against the value
that the JSON document gives, to the last digit that is shown.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any

from openpyxl.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

MINUS = "\u2212"
MOST_COLUMNS = 40


@dataclass(frozen=True, slots=True)
class ReadTable:
    """One table: what stands over it, its headings, its rows by heading."""

    over: str
    headings: tuple[str, ...]  # one that comes again is numbered: amount, amount 2
    rows: tuple[dict[str, str], ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A value as a cell must say it."""

    value: float | None  # None: a dash or nothing
    unit: str = ""  # behind the figure; of a share "%"
    places: int | None = None  # decimals that must be shown; None: any
    to: str = "nearest"  # or "down", "up": the safe side

    def is_said(self, cell: str) -> bool:
        """Whether the cell shows the value, in this unit, as exactly as its digits tell."""
        if self.value is None:
            return not any(letter.isdigit() for letter in cell)
        text = cell.replace(",", "")
        found = re.fullmatch(rf"([+-]?\d+(?:\.(\d+))?)\s*{re.escape(self.unit)}", text.replace(MINUS, "-"))
        if found is None:
            return False
        places = len(found[2] or "")
        if self.places is not None and places != self.places:
            return False
        shown, step = float(found[1]), 10.0**-places
        value = self.value * 100.0 if self.unit == "%" else self.value
        low, high = {"nearest": (-0.5, 0.5), "down": (-1.0, 0.0), "up": (0.0, 1.0)}[self.to]
        return low * step - 1e-6 <= shown - value <= high * step + 1e-6


def percent(value: float | None, places: int = 1) -> Figure:
    """A share or an error."""
    return Figure(value, "%", places)


Wanted = Figure | str
Columns = Mapping[str, Callable[[Any], Wanted]]


def assert_says(table: ReadTable, items: Sequence[Any], columns: Columns) -> None:
    """Every heading, in its order, and under it for every item what it wants."""
    assert list(table.headings) == list(columns)
    assert len(table.rows) == len(items) > 0
    for row, item in zip(table.rows, items, strict=True):
        for heading, wanted_of in columns.items():
            wanted = wanted_of(item)
            cell = row[heading]
            is_said = cell == wanted if isinstance(wanted, str) else wanted.is_said(cell)
            assert is_said, f"{table.over}: {heading}: {cell!r} for {wanted}"


class _Page(HTMLParser):
    """Tables and terms of a page in the order of its text."""

    def __init__(self) -> None:
        super().__init__()
        self.tables: list[tuple[str, list[str], list[list[str]]]] = []
        self.facts: list[tuple[str, str]] = []
        self._over, self._term, self._text, self._is_heading_row = "", "", "", False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002
        if tag == "table":
            self.tables.append((self._over, [], []))
        elif tag == "thead":
            self._is_heading_row = True
        elif tag == "tr" and not self._is_heading_row:
            self.tables[-1][2].append([])
        if tag in ("h1", "h2", "h3", "th", "td", "dt", "dd"):
            self._text = ""

    def handle_data(self, data: str) -> None:
        self._text += data

    def handle_endtag(self, tag: str) -> None:
        text = " ".join(self._text.replace("\xa0", " ").split())
        if tag in ("h1", "h2", "h3"):
            self._over = text
        elif tag == "thead":
            self._is_heading_row = False
        elif tag in ("th", "td"):
            headings, rows = self.tables[-1][1:]
            (headings if self._is_heading_row else rows[-1]).append(text)
        elif tag == "dt":
            self._term = text
        elif tag == "dd":
            self.facts.append((self._term, text))


def _read(page: str) -> _Page:
    reader = _Page()
    reader.feed(re.sub(r"<(style|svg|script).*?</\1>", " ", page, flags=re.DOTALL))
    return reader


def page_tables(page: str) -> list[ReadTable]:
    """Every table of a page."""
    return [_table(over, headings, rows) for over, headings, rows in _read(page).tables]


def page_table(page: str, over: str, *headings: str) -> ReadTable:
    """The one table under a heading that begins so and has these headings of its own."""
    found = [
        table for table in page_tables(page) if table.over.startswith(over) and set(headings) <= set(table.headings)
    ]
    assert len(found) == 1, [(table.over, table.headings) for table in page_tables(page)]
    return found[0]


def page_facts(page: str) -> dict[str, str]:
    """Terms with what is said of them, wherever they stand on a page."""
    return dict(_read(page).facts)


def sheet_table(sheet: Worksheet, *, first_row: int = 1) -> ReadTable:
    """The table that begins with its headings in a row and ends before the first row without a second cell."""
    headings = []
    for column in range(1, MOST_COLUMNS):
        if sheet.cell(first_row, column).value is None:
            break
        headings.append(str(sheet.cell(first_row, column).value))
    rows = []
    for row in range(first_row + 1, sheet.max_row + 1):
        cells = [displayed(sheet.cell(row, column)) for column in range(1, len(headings) + 1)]
        if not cells[1]:
            break
        rows.append(cells)
    return _table(sheet.title, headings, rows)


def displayed(cell: Cell) -> str:
    """A cell as an office program shows it, by its number format; a formula as it stands."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    shape = re.fullmatch(r"[#,]*0(?:\.(0+))?( %)?", cell.number_format)
    if shape is None:
        assert cell.number_format == "General", cell.number_format
        return f"{value:.10g}"
    return f"{value * (100 if shape[2] else 1):.{len(shape[1] or '')}f}{shape[2] or ''}"


def word_tables(content: bytes) -> list[ReadTable]:
    """Every table of a Word file; headings in its first row."""
    from docx import Document

    found = []
    for table in Document(io.BytesIO(content)).tables:
        headings, *rows = [[cell.text for cell in row.cells] for row in table.rows]
        found.append(_table("", headings, rows))
    return found


def _table(over: str, headings: Iterable[str], rows: Iterable[Sequence[str]]) -> ReadTable:
    seen: list[str] = []
    names = []
    for heading in headings:
        seen.append(heading)
        names.append(heading if seen.count(heading) == 1 else f"{heading} {seen.count(heading)}")
    return ReadTable(over, tuple(names), tuple(dict(zip(names, row, strict=True)) for row in rows))
