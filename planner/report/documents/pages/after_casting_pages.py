"""``pour.html`` and ``site-checks.html``: an answer after casting with its picture, self-contained."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.pour_answer import PourAnswer
from planner.issued_curve.site_answer import SiteAnswer
from planner.report.accounts.after_casting.pour_account import pour_account
from planner.report.accounts.after_casting.site_checks_account import site_checks_account
from planner.report.documents.pages.page import page_environment, page_resource
from planner.report.figures.after_casting.pour_reading_chart import pour_plot
from planner.report.figures.after_casting.site_check_chart import checks_plot
from planner.report.figures.drawing.plot import Plot
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.text import words
from planner.report.text.blocks import Section


def render_pour(answer: PourAnswer, *, standing: Sequence[str]) -> str:
    """Write the page of one pour; `standing` are the cautions that stand on every output."""
    pour = words.clean(answer.pour, limit=40)
    return _page(
        f"Pour {pour}, curve {answer.curve.number}", answer.curve, pour_account(answer), pour_plot(answer), standing
    )


def render_site_checks(answer: SiteAnswer, *, standing: Sequence[str]) -> str:
    """Write the page of the site checks of a curve; `standing` are the cautions that stand on every output."""
    kicker = f"Site checks of curve {answer.curve.number}"
    return _page(kicker, answer.curve, site_checks_account(answer), checks_plot(answer), standing)


def _page(kicker: str, curve: IssuedCurve, sections: tuple[Section, ...], plot: Plot, standing: Sequence[str]) -> str:
    return (
        page_environment()
        .get_template("after_casting.html.j2")
        .render(
            style=Markup(page_resource("page.css")),
            kicker=kicker,
            title=words.clean(curve.title, limit=160) or "Strength by maturity",
            sections=sections,
            figures=[(plot, Markup(draw_svg(plot)))],
            standing=[words.clean(text) for text in standing],
        )
    )
