"""Comma- and semicolon-separated text into rows of cells."""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Iterable, Sequence

from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import HEADER_SOUGHT_IN, MOST_COLUMNS, MOST_ROWS, Table, build_table
from planner.read.tabular.headings import n_known_headings

DELIMITERS = (",", ";", "\t", "|")


def read_csv(
    file: str, content: bytes, findings: Findings, *, known: Iterable[str], skip_rows: int = 0
) -> Table | None:
    """Read the bytes of a text table; None with the reason in the findings where that fails.

    Parameters
    ----------
    known
        Normalised headings that the caller knows; they show which delimiter the file uses.
    skip_rows
        Lines above the headings that are no part of the table.
    """
    text = _decode(content)
    if text is None:
        findings.problem(file, "This is no text table, though its name says so. Save it as .csv or .xlsx.")
        return None
    names = frozenset(known)
    delimiter = _delimiter(text, names)
    rows = _rows(file, text, delimiter, findings)
    if rows is None:
        return None
    return build_table(
        file,
        rows[skip_rows:] if skip_rows else rows,
        findings,
        known=names,
        first_row=skip_rows + 1,
        is_comma_decimal=delimiter == ";",
    )


def _decode(content: bytes) -> str | None:
    """Decode UTF-8 with or without a mark, UTF-16 with one, else Western single bytes."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return content.decode("utf-16")
        except UnicodeDecodeError:
            return None
    if b"\0" in content:
        return None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")


def _delimiter(text: str, known: frozenset[str]) -> str:
    """Choose the delimiter that shows most known headings, then most cells, in the first rows."""
    beginning = text[:20_000].splitlines()[:HEADER_SOUGHT_IN]

    def yields(delimiter: str) -> tuple[int, int]:
        try:
            rows = list(csv.reader(beginning, delimiter=delimiter))
        except csv.Error:
            return (0, 0)
        return max(((n_known_headings(row, known), len(row)) for row in rows), default=(0, 0))

    return max(DELIMITERS, key=yields)  # the first of equals


def _rows(file: str, text: str, delimiter: str, findings: Findings) -> Sequence[list[str]] | None:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        rows = list(itertools.islice(reader, MOST_ROWS + 1))
    except csv.Error as error:
        findings.problem(
            file,
            f"The row cannot be read ({error}). Look for a quote that is not closed.",
            row=reader.line_num,
        )
        return None
    if len(rows) > MOST_ROWS:
        findings.problem(file, f"The file has more than {MOST_ROWS:,} rows. Thin the readings or split the study.")
        return None
    lengths = list(map(len, rows))
    if lengths and max(lengths) > MOST_COLUMNS:
        widest = lengths.index(max(lengths))
        findings.problem(
            file,
            f"The row has {lengths[widest]:,} cells, more than {MOST_COLUMNS:,}. Remove what is not needed.",
            row=widest + 1,
        )
        return None
    return rows
