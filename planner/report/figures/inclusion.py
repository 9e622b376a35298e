"""How often each age is in the best schedule when the batches are resampled."""

from __future__ import annotations

from planner.report.figures.drawing.bars import bar_layers, bars_height
from planner.report.figures.drawing.plot import Plot, Tone
from planner.report.figures.drawing.ticks import linear_axis, row_axis
from planner.report.text import words
from planner.terms.labels import age_label
from planner.terms.results.recommended.recommendation import Recommendation


def inclusion_plot(advice: Recommendation) -> Plot | None:
    """A row for each candidate age, those of the recommendation darker; None where ages have no roles."""
    if not advice.ages:
        return None
    chosen = set(advice.recommended.schedule.ages_h)
    figures: list[tuple[float, str, Tone]] = [
        (role.inclusion, words.whole_share(role.inclusion), "main" if role.age_h in chosen else "quiet")
        for role in advice.ages
    ]
    described = "; ".join(f"{age_label(role.age_h)} {words.whole_share(role.inclusion)}" for role in advice.ages)
    return Plot(
        name="inclusion",
        title="How often each age is in the best schedule",
        description=f"Share of resampled sets of batches: {described}. Dark and *: ages recommended.",
        caption="Dark and *: ages of the recommended schedule.",
        across=linear_axis("share of resampled sets of batches", 1.0, is_percent=True),
        up=row_axis(age_label(role.age_h) + (" *" if role.age_h in chosen else "") for role in advice.ages),
        layers=tuple(bar_layers(figures)),
        height_px=bars_height(len(figures)),
        left_px=72.0,
        right_px=56.0,
    )
