"""Columns of a break table that nobody knows, and voids that are none."""

from __future__ import annotations

import re

from planner.read.breaks.break_columns import BREAK_COLUMNS
from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import Cell, Table, is_blank, text_of
from planner.read.tabular.headings import Synonyms, known_headings, normalise_heading
from planner.terms.labels import listed

_BAD_HEADING = re.compile(r"reject|discard|exclu|invalid|void|omit|outlier|scrap|disregard|failed|fail$")
_GOOD_HEADING = re.compile(r"^(is_)?(valid|accepted|ok|use|used|include|included|counts)\b")
# What the laboratory writes down beside a break, in the workbook that is read back too: kept there, no figure needs it.
_NOTES = frozenset(("fracture", "remarks", "end_preparation", "mass_g", "mass_lb"))
_YES, _NO = frozenset(("x", "yes", "y", "true", "1")), frozenset(("no", "n", "false", "0"))
_VOID_WORD = re.compile(
    r"void(ed)?|reject(ed)?|discard(ed)?|exclu(ded|de)|invalid|not valid|omit(ted)?|outlier|do not use|"
    r"disregard(ed)?|scrap(ped)?|bad|damaged|not ok|nok|fail(ed)?|not used|unused|ignored?|out of calibration|"
    r"machine out of calibration|withdrawn|cancelled",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_FLAGS = frozenset(("0", "1"))


def check_other_columns(
    table: Table, findings: Findings, columns: Synonyms = BREAK_COLUMNS, *, what: str = "break records"
) -> None:
    """List columns that are not read once, but for plain notes; refuse one that looks like a void or a rejection."""
    known = known_headings(columns)
    others = [
        position
        for position, heading in enumerate(table.headings)
        if heading and normalise_heading(heading) not in known
    ]
    sound = [position for position in others if not _report_void_like(table, position, findings)]
    unread = [position for position in sound if normalise_heading(table.headings[position]) not in _NOTES]
    if unread:
        findings.caution(
            "columns-not-read",
            f"{table.file}: {listed([chr(34) + table.headings[place] + chr(34) for place in unread], most=12)} "
            + ("is no column" if len(unread) == 1 else "are no columns")
            + f" of {what} and {'is' if len(unread) == 1 else 'are'} not read.",
        )


def check_void_reasons(table: Table, position: int, reasons: list[str], findings: Findings) -> None:
    """Refuse numbers where the reason of a void belongs: most often a decimal comma has parted a cell in two."""
    given = {reason for reason in reasons if reason}
    if given <= _FLAGS and "0" in given:
        return
    findings.rows(
        table.file,
        table.headings[position],
        (
            (
                table.row_numbers[index],
                f'The reason of the void is "{reason}", a number. Where a decimal comma has parted a cell of this row '
                "in two, write it with a point; where the break is void, write why.",
            )
            for index, reason in enumerate(reasons)
            if reason and _NUMBER.fullmatch(reason)
        ),
    )


def _report_void_like(table: Table, position: int, findings: Findings) -> bool:
    cells = table.columns[position]
    heading = normalise_heading(table.headings[position])
    flags = _NO if _GOOD_HEADING.search(heading) else _YES if _BAD_HEADING.search(heading) else frozenset()
    marked = [
        index
        for index, cell in enumerate(cells)
        if not is_blank(cell) and (_VOID_WORD.fullmatch(_word(cell)) is not None or _word(cell) in flags)
    ]
    if not marked:
        return False
    rows = listed(table.row_numbers[index] for index in marked)
    word = text_of(cells[marked[0]])
    findings.problem(
        table.file,
        f'"{word}" under "{table.headings[position]}" looks like a break that must not be used '
        f"(rows {rows}), but the column is not read. "
        'Rename it to "void" and keep a reason only where a break is void, or remove the column.',
        row=table.row_numbers[marked[0]],
        column=table.headings[position],
    )
    return True


def _word(cell: Cell) -> str:
    return text_of(cell).strip(" .!").lower()
