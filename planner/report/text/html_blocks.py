"""Accounts as a piece of a web page, for notebooks: tables are tables, and no user text is read as markup."""

from __future__ import annotations

from html import escape

from planner.report.text.blocks import AgePicture, Block, Bullets, Column, Facts, Paragraph, Section, Table
from planner.report.text.plain_blocks import NO_BREAK, held, plain_sections

LEFT, RIGHT = ' style="text-align: left"', ' style="text-align: right"'


def html_sections(sections: tuple[Section, ...]) -> str:
    """Write sections as headings, tables and lists."""
    parts: list[str] = []
    for section in sections:
        parts.append(f"<h4>{_text(section.heading)}</h4>")
        parts += [_block(block) for block in section.blocks]
    return "<div>" + "\n".join(parts) + "</div>"


def _block(block: Block) -> str:
    if isinstance(block, Paragraph):
        text = _text(block.text)
        return f"<p><strong>{text}</strong></p>" if block.is_strong else f"<p>{text}</p>"
    if isinstance(block, Facts):
        rows = (f"<tr><th{LEFT}>{_text(term)}</th><td{LEFT}>{_text(said)}</td></tr>" for term, said in block.pairs)
        return f"<table><tbody>{''.join(rows)}</tbody></table>"
    if isinstance(block, Bullets):
        return f"<ul>{''.join(f'<li>{_text(item)}</li>' for item in block.items)}</ul>"
    if isinstance(block, Table):
        return _table(block)
    return _picture(block)


def _table(table: Table) -> str:
    head = "".join(f"<th{_side(column)}>{_text(column.heading)}</th>" for column in table.columns)
    rows = (
        "".join(f"<td{_side(column)}>{_text(cell)}</td>" for column, cell in zip(table.columns, row, strict=True))
        for row in table.rows
    )
    body = "".join(f"<tr>{row}</tr>" for row in rows)
    note = f"<p>{_text(table.note)}</p>" if table.note else ""
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{note}"


def _side(column: Column) -> str:
    return RIGHT if column.is_number else LEFT


def _picture(picture: AgePicture) -> str:
    drawn = plain_sections((Section("", (picture,)),)).strip("=\n")
    return f"<pre>{escape(drawn)}</pre>"


def _text(text: str) -> str:
    return escape(held(text.replace(NO_BREAK, " "))).replace(NO_BREAK, "&nbsp;")
