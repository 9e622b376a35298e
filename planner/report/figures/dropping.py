"""What the error becomes when one age is dropped from the recommended schedule."""

from __future__ import annotations

from planner.report.figures.drawing.bars import bar_layers, bars_height, reference_line
from planner.report.figures.drawing.plot import Note, Plot
from planner.report.figures.drawing.ticks import linear_axis, row_axis
from planner.report.text import words
from planner.terms.labels import age_label
from planner.terms.results.recommended.recommendation import Recommendation


def dropping_plot(advice: Recommendation) -> Plot | None:
    """A row for each age that can go; None where none can."""
    dropped = [(role.age_h, role.rms_if_dropped) for role in advice.ages if role.rms_if_dropped is not None]
    if not dropped:
        return None
    now = advice.recommended.error.rms
    up = row_axis(f"without {age_label(age)}" for age, _ in dropped)
    listed = "; ".join(f"without {age_label(age)} {words.share(rms)}" for age, rms in dropped)
    return Plot(
        name="dropping",
        title="What dropping an age costs",
        description=f"RMS error as recommended {words.share(now)}; {listed}.",
        caption="Dashed: the schedule as recommended.",
        across=linear_axis(
            f"RMS error on {words.judges_words(advice)}", 1.1 * max(now, *(rms for _, rms in dropped)), is_percent=True
        ),
        up=up,
        layers=(
            *bar_layers([(rms, words.share(rms), "quiet") for _, rms in dropped]),
            reference_line(now, up),
            Note(
                at=(now, up.high),
                text=f"as recommended {words.share(now)}",
                anchor="middle",
                shift_px=(0.0, 4.0),
            ),
        ),
        height_px=bars_height(len(dropped)) + 14.0,
        left_px=112.0,
        right_px=64.0,
    )
