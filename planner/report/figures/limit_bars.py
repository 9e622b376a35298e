"""Limit, scatter, error: what specimens could buy, what these buy, and the whole."""

from __future__ import annotations

from planner.report.figures.drawing.bars import bar_layers, bars_height
from planner.report.figures.drawing.plot import Plot, Tone
from planner.report.figures.drawing.ticks import linear_axis, row_axis
from planner.report.text import words
from planner.terms.results.recommended.recommendation import Recommendation


def limit_plot(advice: Recommendation) -> Plot | None:
    """Three bars; None where no limit could be computed."""
    limit = advice.limit
    if limit is None:
        return None
    figures: list[tuple[float, str, Tone]] = [
        (limit.rms, words.share(limit.rms), "quiet"),
        (limit.schedule_rms, words.share(limit.schedule_rms), "third"),
    ]
    names = ["least scatter possible", "scatter of this schedule"]
    own = advice.honest.own_batch
    if own is not None:
        figures.append((own.nested_rms, words.share(own.nested_rms), "main"))
        names.append("own-batch error")
    return Plot(
        name="limit",
        title="Limit, scatter and error",
        description=(
            "; ".join(f"{name} {text}" for name, (_, text, _) in zip(names, figures, strict=True))
            + f". {words.limit_words(advice)}"
        ),
        caption=words.limit_words(advice),
        across=linear_axis("RMS", 1.1 * max(value for value, _, _ in figures), is_percent=True),
        up=row_axis(names),
        layers=tuple(bar_layers(figures)),
        height_px=bars_height(len(figures)),
        left_px=170.0,
        right_px=64.0,
    )
