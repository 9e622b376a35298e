"""``clause.html``: the clause as one file that prints on A4 and needs no network."""

from __future__ import annotations

from markupsafe import Markup

from planner.report.documents.pages.page import page_environment, page_resource
from planner.report.text import words
from planner.report.text.clause.clause_text import ages_table, clause_heading, clause_sections, rationale_table
from planner.terms.results.minimum.clause_terms import ClauseTerms

LONGEST_TITLE = 120


def render_clause(clause: ClauseTerms, *, title: str) -> str:
    """Write the clause; where none is drafted, the reason."""
    sections = clause_sections(clause)
    return (
        page_environment()
        .get_template("clause.html.j2")
        .render(
            style=Markup(page_resource("page.css") + page_resource("clause.css")),
            title=words.clean(title, limit=LONGEST_TITLE) or "Strength by maturity",
            heading=clause_heading(clause),
            refused=words.clean(clause.refused_because),
            sections=[
                (section, [(part, words.clean(part.text)) for part in section.paragraphs]) for section in sections
            ],
            ages=ages_table(clause),
            rationale=rationale_table(sections),
        )
    )
