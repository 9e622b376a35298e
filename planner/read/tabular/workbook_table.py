"""The right sheet of a workbook into rows of cells."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import (
    HEADER_SOUGHT_IN,
    MOST_COLUMNS,
    MOST_ROWS,
    Cell,
    Table,
    build_table,
    header_position,
    is_blank,
    text_of,
)
from planner.read.tabular.headings import n_known_headings, normalise_heading
from planner.read.tabular.workbook_marks import report_marks
from planner.terms.labels import listed

MOST_UNZIPPED = 1_000_000_000  # bytes
MOST_SHEETS = 500
_DAMAGED = "The workbook cannot be opened; it is damaged or no workbook. Save it again as .xlsx or .csv."

_UNCALCULATED = (
    'The formulas of the sheet "{}" have no result: they were never calculated, or what they show has not been '
    "entered. Enter it, save the file once in a spreadsheet program, then give it again."
)

_CALCULATED = ("batch", "age", "strength", "elapsed", "temperature")  # headings of columns that every row needs

HasColumns = Callable[[tuple[str, ...]], bool]


def read_workbook(
    file: str,
    content: bytes,
    findings: Findings,
    *,
    known: Iterable[str],
    has_columns: HasColumns,
    needed: str,
    skip_rows: int = 0,
) -> Table | None:
    """Read the first sheet that has the columns; None with the reason in the findings where there is none.

    Parameters
    ----------
    has_columns
        Tells from the headings of a sheet whether it holds the table.
    needed
        The columns asked for, in words, for the message.
    """
    if not _is_safe_archive(file, content, findings):
        return None
    names = frozenset(known)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of features that do not touch cell values
            return _first_fitting(
                file,
                content,
                findings,
                known=names,
                has_columns=has_columns,
                needed=needed,
                skip_rows=skip_rows,
            )
    except _TooLargeError as error:
        findings.problem(file, str(error))
    except (MemoryError, RecursionError):
        findings.problem(file, "The workbook is too large or too deep to read. Save the sheet as .csv.")
    except Exception:
        # Whatever a foreign parser raises on damaged bytes, the answer is the same message.
        findings.problem(file, _DAMAGED)
    return None


class _TooLargeError(Exception):
    """A sheet beyond the limits."""


def _is_safe_archive(file: str, content: bytes, findings: Findings) -> bool:
    """Look at the directory of the archive before anything is unpacked."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = archive.infolist()
            unzipped = sum(part.file_size for part in parts)
            has_entities = False
            if unzipped <= MOST_UNZIPPED:
                for part in parts:
                    if part.filename.endswith((".xml", ".rels")):
                        with archive.open(part) as stream:
                            has_entities = has_entities or b"<!DOCTYPE" in stream.read(1024)
    except Exception:
        findings.problem(file, _DAMAGED)
        return False
    if unzipped > MOST_UNZIPPED:
        findings.problem(
            file,
            f"The workbook unpacks to {unzipped / 1e9:.1f} GB, more than {MOST_UNZIPPED / 1e9:g} GB allowed. "
            "Save the sheet that is needed as .csv.",
        )
        return False
    if has_entities:
        findings.problem(file, "The workbook declares document types, which no workbook needs. Save it again.")
    return not has_entities


def _first_fitting(
    file: str,
    content: bytes,
    findings: Findings,
    *,
    known: frozenset[str],
    has_columns: HasColumns,
    needed: str,
    skip_rows: int,
) -> Table | None:
    import openpyxl  # loads slowly; plans with text tables never need it

    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    try:
        sheets = list(book.worksheets)[:MOST_SHEETS]
        best, best_count = None, 1  # a sheet with one known heading is some other sheet
        fitting: list[str] = []
        for sheet in sheets:
            top_rows = _sheet_rows(sheet, most=HEADER_SOUGHT_IN + skip_rows)[skip_rows:]
            top = header_position(top_rows, known)
            if top is None:
                continue
            headings = tuple(text_of(cell) for cell in top_rows[top])
            is_fitting = has_columns(headings)
            if is_fitting:
                fitting.append(str(sheet.title))
            count = 10_000 if is_fitting else n_known_headings(headings, known)
            if count > best_count:
                best, best_count = sheet, count
        if best is None:
            names = listed(str(sheet.title) for sheet in sheets) or "(none)"
            findings.problem(file, f"No sheet has the columns {needed}. The sheets are: {names}.")
            return None
        rows = _sheet_rows(best, most=MOST_ROWS)[skip_rows:]
        if _is_uncalculated(rows, known, content, str(best.title)):
            findings.problem(file, _UNCALCULATED.format(best.title))
            return None
        _note_other_sheets(file, str(best.title), fitting, findings)
        report_marks(file, content, str(best.title), findings, n_rows=len(rows))
        return build_table(file, rows, findings, known=known, first_row=skip_rows + 1, sheet=str(best.title))
    finally:
        book.close()


def _note_other_sheets(file: str, title: str, fitting: Sequence[str], findings: Findings) -> None:
    """Caution of sheets that could be read as well: one for each batch, an older version."""
    others = [f'"{other}"' for other in fitting if other != title]
    if others:
        findings.caution(
            "other-sheets",
            f'{file}: the sheet "{title}" is read; {listed(others, most=6)} with the same columns '
            f"{'is' if len(others) == 1 else 'are'} not. Put all records into one sheet, or remove the old.",
        )


def _is_uncalculated(rows: Sequence[Sequence[Cell]], known: frozenset[str], content: bytes, title: str) -> bool:
    """Whether a column without which no row can be read holds nothing but formulas without a value."""
    import openpyxl

    top = header_position(rows, known)
    if top is None:
        return False
    empty = [
        place
        for place, heading in enumerate(rows[top])
        if normalise_heading(text_of(heading)).startswith(_CALCULATED)
        and all(is_blank(row[place]) for row in rows[top + 1 :] if place < len(row))
    ]
    if not empty and any(not is_blank(cell) for row in rows[top + 1 :] for cell in row):
        return False
    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True)
    try:
        below = _sheet_rows(book[title], most=MOST_ROWS)[top + 1 :]
        cells = (row[place] for row in below for place in (empty or range(len(row))) if place < len(row))
        return any(isinstance(cell, str) and cell.startswith("=") for cell in cells)
    finally:
        book.close()


def _sheet_rows(sheet: Any, *, most: int) -> Sequence[Sequence[Cell]]:
    sheet.reset_dimensions()  # stored dimensions may lie
    rows: list[Sequence[Cell]] = []
    for row in sheet.iter_rows(values_only=True):
        if len(row) > MOST_COLUMNS:
            raise _TooLargeError(f"A row has {len(row):,} cells, more than {MOST_COLUMNS:,}. Remove unused columns.")
        if len(rows) >= most:
            if most >= MOST_ROWS:
                raise _TooLargeError(f"The sheet has more than {MOST_ROWS:,} rows. Thin the readings or split it.")
            break
        rows.append(row)
    return rows
