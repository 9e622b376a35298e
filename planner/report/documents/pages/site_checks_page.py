"""``site-checks.html``: what becomes of an issued curve, with the picture of its checks."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from planner.issued_curve.site_answer import SiteAnswer
from planner.report.accounts.after_casting.site_checks_account import site_checks_account
from planner.report.documents.pages.page import page_environment, page_resource
from planner.report.figures.after_casting.site_check_chart import checks_plot
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.text import words


def render_site_checks(answer: SiteAnswer, *, standing: Sequence[str]) -> str:
    """Write the page; `standing` are the cautions that stand on every output."""
    plot = checks_plot(answer)
    return (
        page_environment()
        .get_template("after_casting.html.j2")
        .render(
            style=Markup(page_resource("page.css")),
            kicker=f"Site checks of curve {answer.curve.number}",
            title=words.clean(answer.curve.title, limit=160) or "Strength by maturity",
            sections=site_checks_account(answer),
            figures=[(plot, Markup(draw_svg(plot)))],
            standing=[words.clean(text) for text in standing],
        )
    )
