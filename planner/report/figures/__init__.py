"""Pictures of the result: each builds a plain `Plot`, two drawing files turn it into SVG or PNG."""

from __future__ import annotations

from planner.report.figures.after_casting.trial_over_earlier import trial_plot
from planner.report.figures.constants_chart import constants_plots
from planner.report.figures.conversion_chart import conversion_plot
from planner.report.figures.drawing.plot import Plot
from planner.report.figures.dropping import dropping_plot
from planner.report.figures.early_breaks_chart import early_plot
from planner.report.figures.frontier import frontier_plot
from planner.report.figures.growth_curves import growth_plot
from planner.report.figures.inclusion import inclusion_plot
from planner.report.figures.limit_bars import limit_plot
from planner.report.figures.predicted_against_broken import held_out_plot
from planner.report.figures.programmes_chart import programmes_plot
from planner.report.figures.schedule_bars import schedules_plot
from planner.report.figures.waiting_chart import waiting_plot
from planner.terms.results.recommended.recommendation import Recommendation

PICTURES = (
    schedules_plot,
    trial_plot,
    programmes_plot,
    frontier_plot,
    growth_plot,
    held_out_plot,
    inclusion_plot,
    dropping_plot,
    limit_plot,
    early_plot,
    waiting_plot,
    conversion_plot,
)


def all_plots(recommendation: Recommendation) -> tuple[Plot, ...]:
    """Every picture there is something to show in."""
    plots = (picture(recommendation) for picture in PICTURES)
    return (*(plot for plot in plots if plot is not None), *constants_plots(recommendation))
