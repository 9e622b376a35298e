"""``estimate.html``: the bid, the programmes as a picture, every line of the estimate. Made to be printed."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from planner.report.documents.pages.page import page_environment, page_resource
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.figures.frontier import frontier_plot
from planner.report.figures.programmes_chart import programmes_plot
from planner.report.text import words
from planner.report.text.blocks import Section
from planner.terms.results.answers import PriceAnswer

LONGEST_TITLE = 160


def render_estimate(answer: PriceAnswer, sections: Sequence[Section]) -> str:
    """Write the page; `sections` are those of the full account."""
    advice = answer.recommendation
    plots = [plot for plot in (programmes_plot(advice) or frontier_plot(advice),) if plot is not None]
    return (
        page_environment()
        .get_template("after_casting.html.j2")
        .render(
            style=Markup(page_resource("page.css")),
            kicker="Estimate of the calibration",
            title=words.clean(advice.title, limit=LONGEST_TITLE) or "Strength by maturity",
            sections=sections,
            figures=[(plot, Markup(draw_svg(plot))) for plot in plots],
            standing=[words.clean(text) for text in advice.standing_cautions],
        )
    )
