"""Accounts on a terminal. No user text is ever read as markup; nothing relies on colour."""

from __future__ import annotations

import codecs
import re
import textwrap
from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.table import Table as RichTable
from rich.text import Text

from planner.report.text.age_picture import draw_ages
from planner.report.text.blocks import AgePicture, Block, Bullets, Facts, Paragraph, Section, Table, wide_columns_out
from planner.report.text.plain_blocks import NO_BREAK, ascii_text

WIDE = 100
NARROW_FOLD, WIDEST_FOLD = 17, 60  # where a column of schedules breaks its lines
WIDEST_TERM = 24
_UNIT_AFTER = re.compile(r"(?<=\d) (?=(?:%|h|d|min|MPa|psi|kN|C|F|K|mm|in|EUR)(?![A-Za-z0-9]))")
GAP = 2  # blanks between two columns
BULLET_UNICODE, BULLET_ASCII = "•", "-"


def print_sections(sections: tuple[Section, ...], console: Console) -> None:
    """Print any account, section by section."""
    is_ascii = not can_write_unicode(console.encoding)
    for place, section in enumerate(sections):
        if place:
            console.print()
        console.print(_text(section.heading, style="bold underline", is_ascii=is_ascii))
        for block in section.blocks:
            _print_block(block, console, is_ascii=is_ascii)


def can_write_unicode(encoding: str) -> bool:
    """Whether a stream with this encoding can carry the characters of the pictures."""
    try:
        "─┴•…▼".encode(encoding)
        codecs.lookup(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _print_block(block: Block, console: Console, *, is_ascii: bool) -> None:
    if isinstance(block, Paragraph):
        text = _wrapped(block.text, width=console.width)
        console.print(_text(text, style="bold" if block.is_strong else "", is_ascii=is_ascii))
    elif isinstance(block, Facts):
        console.print(_facts(block, width=console.width, is_ascii=is_ascii))
    elif isinstance(block, Bullets):
        _print_bullets(block, console, is_ascii=is_ascii)
    elif isinstance(block, Table):
        _print_table(block, console, is_ascii=is_ascii)
    elif isinstance(block, AgePicture):
        for line in draw_ages(block, width=console.width, is_ascii=is_ascii):
            console.print(_text(line, is_ascii=is_ascii), no_wrap=True, crop=True)


def _print_bullets(block: Bullets, console: Console, *, is_ascii: bool) -> None:
    mark = BULLET_ASCII if is_ascii else BULLET_UNICODE
    grid = RichTable.grid(padding=(0, 1))
    grid.add_column(width=1)
    grid.add_column(overflow="fold")
    for item in block.items:
        grid.add_row(mark, _text(_wrapped(item, width=console.width - 2), is_ascii=is_ascii))
    console.print(grid)


def _facts(block: Facts, *, width: int, is_ascii: bool) -> RichTable:
    grid = RichTable.grid(padding=(0, 2))
    widest = min(WIDEST_TERM, max((cell_len(term) for term, _ in block.pairs), default=0))
    grid.add_column(overflow="fold", width=widest)
    grid.add_column(overflow="fold")
    for term, said in block.pairs:
        text = _wrapped(said, width=width - widest - 2)
        grid.add_row(_text(term, style="bold", is_ascii=is_ascii), _text(text, is_ascii=is_ascii))
    return grid


def _print_table(block: Table, console: Console, *, is_ascii: bool) -> None:
    table = block if console.width >= WIDE else wide_columns_out(block)
    drawn = RichTable(box=None, pad_edge=False, padding=(0, 1), header_style="")
    fold = _fold_width(table, width=console.width)
    cells = [tuple(_folded(cell, width=fold) for cell in row) for row in table.rows]
    widths = _column_widths([tuple(column.heading for column in table.columns), *cells], width=console.width)
    rows = [
        tuple(_folded(cell, width=min(fold, width)) for cell, width in zip(row, widths, strict=True))
        for row in table.rows
    ]
    for column, width in zip(table.columns, widths, strict=True):
        drawn.add_column(
            _text(column.heading, style="italic", is_ascii=is_ascii),
            justify="right" if column.is_number else "left",
            overflow="fold",
            width=width,
        )
    for place, row in enumerate(rows):
        style = "bold" if place < table.n_marked else ""
        drawn.add_row(*(_text(cell, style=style, is_ascii=is_ascii) for cell in row))
    console.print(drawn)
    if table.note:
        console.print(_text(_wrapped(table.note, width=console.width), style="dim", is_ascii=is_ascii))


def _column_widths(rows: Sequence[tuple[str, ...]], *, width: int) -> list[int]:
    """Widths that fit the screen: the widest columns give way first, none below its longest word while others can."""
    columns = list(zip(*rows, strict=True))
    widths = [max(cell_len(line) for cell in cells for line in cell.split("\n")) for cells in columns]
    least = [max((cell_len(word) for cell in cells for word in cell.split()), default=1) for cells in columns]
    too_wide = sum(widths) + GAP * (len(widths) - 1) - width
    while too_wide > 0:
        room = [now - word for now, word in zip(widths, least, strict=True)]
        if max(room) <= 0:
            break  # words must be broken: the screen does it
        place = max((place for place, free in enumerate(room) if free > 0), key=widths.__getitem__)
        widths[place] -= 1
        too_wide -= 1
    return widths


def _fold_width(table: Table, *, width: int) -> int:
    """Where a column of schedules breaks its lines: nowhere if every row fits as it is."""
    cells = [tuple(column.heading for column in table.columns), *table.rows]
    needed = sum(max(cell_len(row[place]) for row in cells) for place in range(len(table.columns)))
    if needed + 2 * (len(table.columns) - 1) <= width:
        return width
    return min(WIDEST_FOLD, width // 3) if width >= WIDE else NARROW_FOLD


def _wrapped(text: str, *, width: int) -> str:
    """Lines that never end between a figure and its unit; the screen breaks what is still too wide."""
    held = _UNIT_AFTER.sub(NO_BREAK, text)
    return textwrap.fill(held, max(width, 20), break_on_hyphens=False).replace(NO_BREAK, " ")


def _folded(cell: str, *, width: int) -> str:
    """Break a cell at its breakable blanks only; the screen's own wrapping breaks at any blank."""
    if NO_BREAK not in cell:
        return cell
    return textwrap.fill(cell, width, break_long_words=False, break_on_hyphens=False).replace(NO_BREAK, " ")


def _text(text: str, *, style: str = "", is_ascii: bool) -> Text:
    """Wrap text as a value: square brackets stay square brackets."""
    return Text(ascii_text(text) if is_ascii else text, style=style)
