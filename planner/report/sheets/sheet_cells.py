"""Writing cells: text that can never become a formula, headings, widths, print set-up."""

from __future__ import annotations

import math
from collections.abc import Sequence

from openpyxl.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from planner.report.text import words

LONGEST_TEXT = 32_000  # a cell takes 32,767 characters
FORMULA_STARTS = ("=", "+", "-", "@")
FACE = "Calibri"
HEADING = Font(name=FACE, bold=True)
TITLE = Font(name=FACE, bold=True, size=14)
QUIET = Font(name=FACE, color="00525C66")
WARNING = Font(name=FACE, bold=True, italic=True)
HEADING_HEIGHT = 46.0  # three lines
MARGIN_INCHES = 0.4
WASH = PatternFill("solid", fgColor="00E9EDF0")
INPUT = PatternFill("solid", fgColor="00FFF8E1")
BOX = Border(*(Side(style="hair", color="008A949D"),) * 4)
THIN = Border(bottom=Side(style="thin", color="00B5BCC2"))
PERCENT, PERCENT_WHOLE, MONEY, PLACES_2 = "0.0 %", "0 %", "#,##0.00", "0.00"
DATE_TIME = "ddd d mmm yyyy hh:mm"


def put_text(cell: Cell, text: str) -> None:
    """Write text as text: even one that begins like a formula stays what it is."""
    cell.value = words.clean(text, limit=LONGEST_TEXT)
    cell.data_type = "s"
    if cell.value and str(cell.value).startswith(FORMULA_STARTS):
        cell.quotePrefix = True


def put_number(cell: Cell, figure: float | None, number_format: str = "General") -> None:
    """Write a figure; one that does not exist leaves the cell empty."""
    if figure is None or not math.isfinite(figure):
        return
    cell.value = figure
    cell.number_format = number_format


def put_formula(cell: Cell, formula: str, number_format: str = "General") -> None:
    """Write one of our own formulas. No text of a user may stand in it."""
    cell.value = formula
    cell.data_type = "f"
    cell.number_format = number_format


def put_headings(sheet: Worksheet, headings: Sequence[str], *, row: int = 1) -> None:
    """Write the headings of a table, shaded, wrapped, and kept in view."""
    for column, heading in enumerate(headings, start=1):
        cell = sheet.cell(row, column)
        put_text(cell, heading)
        cell.font, cell.fill, cell.border = HEADING, WASH, THIN
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    sheet.row_dimensions[row].height = HEADING_HEIGHT
    sheet.freeze_panes = sheet.cell(row + 1, 1)
    sheet.print_title_rows = f"{row}:{row}"


def set_widths(sheet: Worksheet, widths: Sequence[float]) -> None:
    """Set the widths of the columns, in characters."""
    for column, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width


def set_up_print(sheet: Worksheet, *, is_landscape: bool) -> None:
    """One page wide, as many high as it takes, numbered; the paper is the reader's own."""
    sheet.page_setup.orientation = "landscape" if is_landscape else "portrait"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    margins = sheet.page_margins
    margins.left = margins.right = MARGIN_INCHES
    sheet.oddFooter.center.text = "&A, page &P of &N"


def put_paragraph(sheet: Worksheet, row: int, text: str, *, last_column: int, width: float) -> None:
    """Write text over several columns, in a row high enough for it."""
    sheet.merge_cells(start_row=row, start_column=1, end_row=row, end_column=last_column)
    cell = sheet.cell(row, 1)
    put_text(cell, text)
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    sheet.row_dimensions[row].height = row_height(text, width=width)


def row_height(text: str, *, width: float) -> float:
    """Points that wrapped text needs in so many characters of width."""
    return 15.0 * max(1, math.ceil(1.1 * len(text) / width))


def between(low: float, high: float, text: str) -> DataValidation:
    """A rule for numbers; `text` is told when it is broken."""
    rule = DataValidation(type="decimal", operator="between", allow_blank=True)
    rule.formula1, rule.formula2 = str(low), str(high)
    return _telling(rule, text)


def one_of(names: Sequence[str], text: str) -> DataValidation:
    """A rule for words from a list."""
    return _telling(DataValidation(type="list", formula1=f'"{",".join(names)}"', allow_blank=True), text)


def _telling(rule: DataValidation, text: str) -> DataValidation:
    rule.error, rule.errorTitle = text, "Check the entry"
    return rule
