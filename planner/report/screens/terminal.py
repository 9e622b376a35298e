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
from planner.report.text.plain_blocks import NO_BREAK, ascii_text, held

WIDE = 100
NARROW_FOLD, WIDEST_FOLD = 17, 60  # where a column of schedules breaks its lines
WIDEST_TERM = 24
_UNIT_OF = re.compile(r"^\S*\d (%|[A-Z]{3})(?![A-Za-z0-9])")  # percentages and money, the figure first
GAP = 2  # blanks between two columns
BULLET_UNICODE, BULLET_ASCII = "•", "-"


def print_sections(sections: tuple[Section, ...], console: Console) -> None:
    """Print any account, section by section."""
    is_ascii = not can_write_unicode(console.encoding)
    for place, section in enumerate(sections):
        if place:
            console.print()
        heading = _wrapped(section.heading, width=console.width)
        console.print(_text(heading, style="bold underline", is_ascii=is_ascii))
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
        name = textwrap.fill(term, widest) if widest else term  # a caution's code ends its line at a hyphen
        grid.add_row(_text(name, style="bold", is_ascii=is_ascii), _text(text, is_ascii=is_ascii))
    return grid


def _print_table(block: Table, console: Console, *, is_ascii: bool) -> None:
    table = block if console.width >= WIDE else wide_columns_out(block)
    drawn = RichTable(box=None, pad_edge=False, padding=(0, 1), header_style="")
    fold = _fold_width(table, width=console.width)
    cells = [tuple(column.heading for column in table.columns)]
    cells += [tuple(_folded(cell, width=fold) for cell in row) for row in table.rows]
    if _least_width(cells) > console.width:
        cells = _units_in_headings(cells)
    widths = _column_widths(cells, width=console.width)
    headings, *rows = (
        tuple(_fitted(cell, width=width) for cell, width in zip(row, widths, strict=True)) for row in cells
    )
    for column, heading, width in zip(table.columns, headings, widths, strict=True):
        drawn.add_column(
            _text(heading, style="italic", is_ascii=is_ascii),
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
    least = [_longest_word(cells) for cells in columns]
    too_wide = sum(widths) + GAP * (len(widths) - 1) - width
    while too_wide > 0:
        room = [now - word for now, word in zip(widths, least, strict=True)]
        if max(room) <= 0:
            break  # words must be broken: the screen does it
        place = max((place for place, free in enumerate(room) if free > 0), key=widths.__getitem__)
        widths[place] -= 1
        too_wide -= 1
    return widths


def _longest_word(cells: Sequence[str]) -> int:
    """The widest piece of a column that no line ends in; a figure and its unit are one piece."""
    return max((cell_len(word) for cell in cells for word in re.split("[ \n]", _unit_held(cell))), default=1)


def _unit_held(cell: str) -> str:
    """Of a cell that must give way: its schedule may break at every age, its figures keep their units."""
    return held(cell.replace(NO_BREAK, " "))


def _least_width(rows: Sequence[tuple[str, ...]]) -> int:
    """What the table takes at the least with no word broken."""
    columns = list(zip(*rows, strict=True))
    return sum(_longest_word(cells) for cells in columns) + GAP * (len(columns) - 1)


def _units_in_headings(rows: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """A unit that a whole column shares goes to its heading: on a narrow screen it would part from its figure."""
    columns = []
    for heading, *cells in zip(*rows, strict=True):
        units = [_UNIT_OF.search(cell) for cell in cells if any(character.isdigit() for character in cell)]
        shared = {found[1] if found else "" for found in units}
        unit = shared.pop() if len(shared) == 1 else ""
        if unit and unit not in heading:
            columns.append((f"{heading}\n{unit}", *(cell.replace(f" {unit}", "", 1) for cell in cells)))
        else:
            columns.append((heading, *cells))
    return list(zip(*columns, strict=True))


def _fold_width(table: Table, *, width: int) -> int:
    """Where a column of schedules breaks its lines: as late as lets the table fit."""
    cells = [tuple(column.heading for column in table.columns), *table.rows]
    latest = width if width < WIDE else max(WIDEST_FOLD, width // 3)
    for fold in range(latest, NARROW_FOLD, -1):
        columns = zip(*([_folded(cell, width=fold) for cell in row] for row in cells), strict=True)
        needed = [max(cell_len(line) for cell in column for line in cell.split("\n")) for column in columns]
        if sum(needed) + GAP * (len(needed) - 1) <= width:
            return fold
    return NARROW_FOLD


def _wrapped(text: str, *, width: int) -> str:
    """Lines that never end between a figure and its unit; the screen breaks what is still too wide."""
    return textwrap.fill(held(text), max(width, 20), break_on_hyphens=False).replace(NO_BREAK, " ")


def _folded(cell: str, *, width: int) -> str:
    """Break a cell with blanks that must hold at its other blanks, where the column of schedules breaks its lines."""
    if NO_BREAK not in cell:
        return cell
    return textwrap.fill(cell, width, break_long_words=False, break_on_hyphens=False)


def _fitted(cell: str, *, width: int) -> str:
    """Break a cell to its column, never between a figure and its unit; the screen's own wrapping breaks anywhere."""
    lines = (
        textwrap.fill(_unit_held(line), max(width, 1), break_long_words=False, break_on_hyphens=False)
        for line in cell.split("\n")
    )
    return "\n".join(lines).replace(NO_BREAK, " ")


def _text(text: str, *, style: str = "", is_ascii: bool) -> Text:
    """Wrap text as a value: square brackets stay square brackets."""
    return Text(ascii_text(text) if is_ascii else text, style=style)
