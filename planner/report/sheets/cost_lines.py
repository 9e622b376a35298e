"""The lines of an estimate with live sums: quantity times price, a sum for each part, the contingency, all together."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from openpyxl.worksheet.worksheet import Worksheet

from planner.report.sheets.sheet_cells import HEADING, MONEY, put_formula, put_number, put_text
from planner.terms.results.cost_item import CostItem, CostPart

SUM_OF = {CostPart.CALIBRATION: "calibration", CostPart.CHECKS_AND_POURS: "checks and pours"}
TOTAL = "total"
OPEN = "no price stated: not in the total"
UNTOLD = "quantity not known: not in the total"
QUANTITY, PRICE, AMOUNT, NOTE = "B", "C", "D", 5


def put_lines(
    sheet: Worksheet, first_row: int, items: Sequence[CostItem], note: Callable[[CostItem], str] = lambda _item: ""
) -> int:
    """Write the lines from a row on, columns A to E: item, quantity, price, amount, note.

    Parameters
    ----------
    note
        What stands beside a line that is not open.

    Returns
    -------
    int
        The row of the total.
    """
    row, sums = first_row, list[str]()
    parts = [part for part in SUM_OF if any(item.part is part for item in items)]
    for part in parts:
        first = row
        for item in items:
            if item.part is part:
                _put_line(sheet, row, item, note(item))
                row += 1
        if len(items) > row - first or sums:
            sums.append(f"{AMOUNT}{row}")
            _put_sum(sheet, row, SUM_OF[part], f"=SUM({AMOUNT}{first}:{AMOUNT}{row - 1})")
            row += 1
    for item in items:
        if item.part is CostPart.CONTINGENCY:
            _put_line(sheet, row, item, note(item))
            put_formula(sheet[f"{PRICE}{row}"], f"={'+'.join(sums)}", MONEY)
            sums.append(f"{AMOUNT}{row}")
            row += 1
    everything = f"={'+'.join(sums)}" if sums else f"=SUM({AMOUNT}{first_row}:{AMOUNT}{row - 1})"
    _put_sum(sheet, row, TOTAL, everything)
    return row


def _put_line(sheet: Worksheet, row: int, item: CostItem, note: str) -> None:
    put_text(sheet.cell(row, 1), item.name)
    put_number(sheet[f"{QUANTITY}{row}"], item.quantity)
    put_number(sheet[f"{PRICE}{row}"], item.unit_price, MONEY)
    put_formula(sheet[f"{AMOUNT}{row}"], f"={QUANTITY}{row}*{PRICE}{row}", MONEY)
    put_text(sheet.cell(row, NOTE), UNTOLD if item.is_untold else OPEN if item.is_open else note)


def _put_sum(sheet: Worksheet, row: int, name: str, formula: str) -> None:
    put_text(sheet.cell(row, 1), name)
    put_formula(sheet[f"{AMOUNT}{row}"], formula, MONEY)
    for column in ("A", AMOUNT):
        sheet[f"{column}{row}"].font = HEADING
