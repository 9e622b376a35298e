"""What a sheet says of its cells beside their values: struck out, commented on, hidden.

People mark a break that must not count by striking it out, by a note at its cell or by hiding its row. None of that is
read with the values, so it is told.
"""

from __future__ import annotations

import io
import re
from typing import Any

from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import is_blank
from planner.terms.labels import listed

MOST_LOOKED_AT = 5_000  # rows; a longer sheet is a logger's, and nobody marks its cells by hand
LONGEST_NOTE = 60
VOID_IT = 'Write the reason into a column "void", or take the mark away.'
VOID_NOTE = re.compile(
    r"\b(void|reject|discard|exclud|invalid|not valid|omit|outlier|do not use|disregard|scrap|damaged|crushed)", re.I
)


def report_marks(file: str, content: bytes, title: str, findings: Findings, *, n_rows: int) -> None:
    """Refuse values that are struck out or noted as void; caution of other notes and of hidden rows.

    Parameters
    ----------
    title
        Of the sheet that is read.
    n_rows
        That it has; beyond a limit nothing is looked at.
    """
    if n_rows > MOST_LOOKED_AT:
        return
    import openpyxl

    sheet = openpyxl.load_workbook(io.BytesIO(content), data_only=True)[title]
    struck: list[tuple[int, str]] = []
    voids: list[tuple[int, str]] = []
    notes: list[str] = []
    reasons: set[int] = set()  # columns in which a void has its reason
    for row in sheet.iter_rows():
        reasons |= {cell.column for cell in row if str(cell.value).strip().lower().startswith("void")}
        if any(cell.column in reasons and not is_blank(cell.value) for cell in row):
            continue  # the headings themselves, and breaks that do not count
        for cell in row:
            if is_blank(cell.value):
                continue
            if cell.font is not None and cell.font.strike:
                struck.append((cell.row, f"Cell {cell.coordinate} is struck out, but its value counts. {VOID_IT}"))
            note = "" if cell.comment is None else " ".join(str(cell.comment.text).split())[:LONGEST_NOTE]
            if VOID_NOTE.search(note):
                said = f'The note at {cell.coordinate} says "{note}", but its row counts. {VOID_IT}'
                voids.append((cell.row, said))
            elif note:
                notes.append(f'{cell.coordinate} "{note}"')
    findings.rows(file, None, struck)
    findings.rows(file, None, voids)
    if notes:
        findings.caution("notes-not-read", f"{file}: notes at cells are not read: {listed(notes, most=4)}.")
    hidden = _hidden_rows(sheet)
    if hidden:
        counted = (
            "1 hidden row of the sheet counts" if len(hidden) == 1 else f"{len(hidden)} hidden rows of the sheet count"
        )
        findings.caution(
            "hidden-rows",
            f"{file}: {counted} like the others (rows {listed(hidden)}). Void what must not be used, with the reason, "
            "or remove it.",
        )


def _hidden_rows(sheet: Any) -> list[int]:
    """Rows with a value that a reader does not see, filtered ones too."""
    return [
        number
        for number, shape in sorted(sheet.row_dimensions.items())
        if shape.hidden and any(not is_blank(cell.value) for cell in sheet[number])
    ]
