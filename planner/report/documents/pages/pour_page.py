"""``pour.html``: one pour read from its own early breaks, with the picture."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from planner.issued_curve.pour_answer import PourAnswer
from planner.report.accounts.after_casting.pour_account import pour_account
from planner.report.documents.pages.page import page_environment, page_resource
from planner.report.figures.after_casting.pour_reading_chart import pour_plot
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.text import words


def render_pour(answer: PourAnswer, *, standing: Sequence[str]) -> str:
    """Write the page; `standing` are the cautions that stand on every output."""
    plot = pour_plot(answer)
    pour = words.clean(answer.pour, limit=40)
    return (
        page_environment()
        .get_template("after_casting.html.j2")
        .render(
            style=Markup(page_resource("page.css")),
            kicker=f"Pour {pour}, curve {answer.curve.number}",
            title=words.clean(answer.curve.title, limit=160) or "Strength by maturity",
            sections=pour_account(answer),
            figures=[(plot, Markup(draw_svg(plot)))],
            standing=[words.clean(text) for text in standing],
        )
    )
