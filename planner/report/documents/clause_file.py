"""``clause.docx``: the clause for a word processor. Needs python-docx, from the extra ``documents``."""

from __future__ import annotations

import io
from typing import Any

from planner.report.text import words
from planner.report.text.blocks import Table
from planner.report.text.clause.clause_text import ages_table, clause_heading, clause_sections, rationale_table
from planner.report.text.needed_library import OF_CLAUSE
from planner.report.text.shown_units import in_words
from planner.terms.results.minimum.clause_terms import ClauseTerms

LONGEST_TITLE = 120
HANGING_CM, MARGIN_CM = 1.3, 2.2
BODY_PT, SMALL_PT = 10.5, 8.5


def clause_docx(clause: ClauseTerms, *, title: str) -> bytes:
    """The clause as the content of a file; where none is drafted, the reason.

    Raises
    ------
    InputError
        Where python-docx is not installed.
    """
    OF_CLAUSE.check()  # of Python too: the command has asked before it computes
    from docx import Document
    from docx.shared import Cm, Pt

    document = Document()
    for page in document.sections:
        page.page_width, page.page_height = Cm(21.0), Cm(29.7)
        page.left_margin = page.right_margin = page.top_margin = page.bottom_margin = Cm(MARGIN_CM)
    document.styles["Normal"].font.size = Pt(BODY_PT)
    document.core_properties.title = words.clean(title, limit=LONGEST_TITLE)
    document.core_properties.author = ""
    document.add_paragraph().add_run(clause_heading(clause)).bold = True
    document.add_heading(words.clean(title, limit=LONGEST_TITLE) or "Strength by maturity", level=1)
    if clause.kind == "refused":
        document.add_paragraph(f"No clause is drafted: {words.clean(clause.refused_because)}")
        return _saved(document)
    sections = clause_sections(clause)
    for section in sections:
        document.add_heading(f"{section.number} {section.heading}", level=2)
        for part in section.paragraphs:
            paragraph = document.add_paragraph()
            paragraph.paragraph_format.left_indent = Cm(HANGING_CM)
            paragraph.paragraph_format.first_line_indent = Cm(-HANGING_CM)
            paragraph.paragraph_format.tab_stops.add_tab_stop(Cm(HANGING_CM))
            paragraph.add_run(f"{part.number}\t")
            paragraph.add_run(f"{part.subject}. ").bold = True
            paragraph.add_run(in_words(words.clean(part.text)))
    document.add_heading("Table 1: breaks of each trial batch", level=2)
    _add_table(document, ages_table(clause), size_pt=BODY_PT)
    document.add_heading("Table 2: what every number rests on (not part of the clause)", level=2)
    _add_table(document, rationale_table(sections), size_pt=SMALL_PT)
    return _saved(document)


def _add_table(document: Any, table: Table, *, size_pt: float) -> None:
    from docx.shared import Pt

    grid = document.add_table(rows=1, cols=len(table.columns))
    grid.style = "Table Grid"
    rows = [[column.heading for column in table.columns], *table.rows]
    for at, row in enumerate(rows):
        cells = grid.rows[0].cells if at == 0 else grid.add_row().cells
        for cell, text in zip(cells, row, strict=True):
            run = cell.paragraphs[0].add_run(in_words(words.clean(text)))
            run.font.size, run.bold = Pt(size_pt), at == 0


def _saved(document: Any) -> bytes:
    stream = io.BytesIO()
    document.save(stream)
    return stream.getvalue()
