"""An account in the units asked for, block by block."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from planner.report.text.blocks import AgePicture, Block, Bullets, Facts, Paragraph, Section, Table
from planner.report.text.shown_units import are_shown_in_us, column_in, in_words


def sections_shown(sections: Iterable[Section]) -> tuple[Section, ...]:
    """Every heading, sentence and cell in the units asked for."""
    if not are_shown_in_us():
        return tuple(sections)
    return tuple(
        replace(section, heading=in_words(section.heading), blocks=tuple(_block(block) for block in section.blocks))
        for section in sections
    )


def _block(block: Block) -> Block:
    if isinstance(block, Paragraph):
        return replace(block, text=in_words(block.text))
    if isinstance(block, Facts):
        return Facts(tuple((in_words(term), in_words(said)) for term, said in block.pairs))
    if isinstance(block, Bullets):
        return Bullets(tuple(in_words(item) for item in block.items))
    if isinstance(block, Table):
        return _table(block)
    assert isinstance(block, AgePicture)
    return block


def _table(table: Table) -> Table:
    columns = [column_in(column.heading) for column in table.columns]
    return replace(
        table,
        columns=tuple(replace(old, heading=new) for old, (new, _) in zip(table.columns, columns, strict=True)),
        rows=tuple(tuple(turned(cell) for cell, (_, turned) in zip(row, columns, strict=True)) for row in table.rows),
        note=in_words(table.note),
    )
