"""Accounts as plain text, for the screen, mails and logs."""

from __future__ import annotations

import re
import textwrap

from rich.cells import cell_len, set_cell_size

from planner.report.text.age_picture import draw_ages
from planner.report.text.blocks import (
    Block,
    Bullets,
    Column,
    Facts,
    Paragraph,
    Section,
    Table,
    wide_columns_out,
)

PLAIN_WIDTH = 78
TERM_WIDTH = 16
NARROWEST = 5  # no column gives way further
NO_BREAK = "\u00a0"  # keeps an age together with its count
_UNITS = "%|h|d|min|MPa|psi|ksi|kN|lbf|C|F|K|mm|in|[A-Z]{3}"  # three capitals: money
_HELD = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?![A-Za-z0-9]))|(?<=\d [hd]) (?=x\d|\()|(?<=\bQ) (?=\d)| (?=[%*])")
_PLAIN_FOR = str.maketrans(
    {"─": "-", "┴": "+", "•": "-", "…": "...", "≤": "<=", "±": "+-", "°": " ", "▼": "v", NO_BREAK: " "}
    | {bar: str(height) for height, bar in enumerate("▁▂▃▄▅▆▇█", start=1)}
)


def held(text: str) -> str:
    """No line may end between a figure and its unit, an age and its count, a Q and its value."""
    return _HELD.sub(NO_BREAK, text)


def ascii_text(text: str) -> str:
    """The nearest ASCII text; what has no counterpart becomes a question mark."""
    return text.translate(_PLAIN_FOR).encode("ascii", "replace").decode("ascii")


def plain_sections(sections: tuple[Section, ...], *, width: int = PLAIN_WIDTH, is_ascii: bool = False) -> str:
    """Write sections as lines no wider than `width`, words longer than a line excepted."""
    lines: list[str] = []
    for section in sections:
        heading = textwrap.wrap(section.heading, width) or [""]
        lines += [*heading, "=" * min(width, max(cell_len(line) for line in heading))]
        for block in section.blocks:
            lines += [*_plain_block(block, width=width, is_ascii=is_ascii), ""]
    text = "\n".join(line.rstrip() for line in lines).replace(NO_BREAK, " ")
    return ascii_text(text) if is_ascii else text


def _plain_block(block: Block, *, width: int, is_ascii: bool) -> list[str]:
    if isinstance(block, Paragraph):
        return textwrap.wrap(block.text, width)
    if isinstance(block, Facts):
        return [line for term, said in block.pairs for line in _hanging(f"{term}:", said, width=width)]
    if isinstance(block, Bullets):
        return [
            line
            for item in block.items
            for line in textwrap.wrap(item, width, initial_indent="- ", subsequent_indent="  ")
        ]
    if isinstance(block, Table):
        return _plain_table(wide_columns_out(block), width=width)
    return list(draw_ages(block, width=width, is_ascii=is_ascii))


def _hanging(term: str, said: str, *, width: int) -> list[str]:
    if len(term) < TERM_WIDTH:
        return textwrap.wrap(said, width, initial_indent=f"{term:<{TERM_WIDTH}}", subsequent_indent=" " * TERM_WIDTH)
    return [term, *textwrap.wrap(said, width, initial_indent="    ", subsequent_indent="    ")]


def _plain_table(table: Table, *, width: int) -> list[str]:
    """Columns side by side; the widest text column gives way and wraps until the line fits."""
    widths = _column_widths(table, width=width)
    headings = tuple(column.heading for column in table.columns)
    lines = _plain_row(headings, table.columns, widths)
    lines.append("  ".join("-" * wide for wide in widths))
    for row in table.rows:
        lines += _plain_row(row, table.columns, widths)
    return lines + textwrap.wrap(table.note, width)


def _column_widths(table: Table, *, width: int) -> list[int]:
    cells = [tuple(column.heading for column in table.columns), *table.rows]
    widths = [max(cell_len(row[place]) for row in cells) for place in range(len(table.columns))]
    room = width - 2 * (len(widths) - 1)
    while sum(widths) > room and max(widths) > NARROWEST:
        widths[widths.index(max(widths))] -= 1
    return widths


def _plain_row(row: tuple[str, ...], columns: tuple[Column, ...], widths: list[int]) -> list[str]:
    wrapped = [textwrap.wrap(cell, wide) or [""] for cell, wide in zip(row, widths, strict=True)]
    lines = []
    for place in range(max(len(cell) for cell in wrapped)):
        parts = []
        for cell, column, wide in zip(wrapped, columns, widths, strict=True):
            text = cell[place] if place < len(cell) else ""
            gap = " " * max(0, wide - cell_len(text))
            parts.append(gap + text if column.is_number else set_cell_size(text, wide))
        lines.append("  ".join(parts))
    return lines
