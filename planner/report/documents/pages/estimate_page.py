"""``estimate.html``: the bid, the programmes as a picture, every line of the estimate. Made to be printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from markupsafe import Markup

from planner.report.documents.pages.page import page_environment, page_resource
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.figures.frontier import frontier_plot
from planner.report.figures.programmes_chart import programmes_plot
from planner.report.text import words
from planner.report.text.blocks import Section
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.recommended.recommendation import Recommendation

LONGEST_TITLE = 160
HEADING = "What to bid"  # the title stands over the page
N_LEADING = 2  # sections before the picture: the bid and its lines


def _under_title(bid: Section, advice: Recommendation) -> Section:
    """The first section, whose heading is the title, but where something must be said before anything else."""
    return bid if words.clean(advice.evidence.first_line) else replace(bid, heading=HEADING)


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
            sections=[_under_title(sections[0], advice), *sections[1:]],
            n_leading=N_LEADING,
            figures=[(plot, Markup(draw_svg(plot))) for plot in plots],
            standing=(),  # they stand with the cautions
        )
    )
