"""Predicted against actual strength of held-out checks, with the tolerance and the dangerous side."""

from __future__ import annotations

from collections.abc import Sequence

from planner.report.figures.drawing.plot import Area, Line, Marks, Note, Plot, Shape
from planner.report.figures.drawing.thinning import spread_over
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text import words
from planner.terms.results.recommended.plotted_points import HeldOutPoint
from planner.terms.results.recommended.recommendation import Recommendation

MOST_MARKS = 1_000  # drawn for each target; all are counted
SHAPES: tuple[Shape, ...] = ("dot", "square", "triangle", "diamond", "ring")


def held_out_plot(advice: Recommendation) -> Plot | None:
    """None where nothing was held out."""
    points, later = advice.held_out, advice.held_out_later
    if not points:
        return None
    largest = 1.08 * max(max(point.predicted_mpa, point.actual_mpa) for point in (*points, *later))
    up = linear_axis("predicted, MPa", largest)
    across = linear_axis("broken at, MPa", largest)
    high, tolerance = up.high, advice.tolerance
    band = ((0.0, 0.0), (high / (1 + tolerance), high), (high, high), (high, high * (1 - tolerance)))
    layers: list[Area | Line | Marks | Note] = [
        Area(points=band, label=f"within {words.share(tolerance)}"),
        Line(points=((0.0, 0.0), (high, high)), tone="strong"),
        Note(at=(0.0, high), text="over-predicted: the dangerous side", shift_px=(8.0, -16.0), is_strong=True),
        Note(at=(high, 0.0), text="under-predicted", anchor="end", shift_px=(-8.0, 8.0)),
    ]
    if later:
        layers.append(_later_marks(spread_over(list(later), MOST_MARKS)))
    for place, age in enumerate(advice.target_ages_h):
        own = [point for point in points if point.target_age_h == age]
        if own:
            layers.append(
                _marks(spread_over(own, MOST_MARKS), advice.target_label(age), shape=SHAPES[place % len(SHAPES)])
            )
    own_words, later_words = _counted(points, tolerance), _counted(later, tolerance)
    beside = ""
    if later:
        beside = (
            f" Later pours, every batch read with the recommended curve of every other, {len(later)} readings: "
            f"{later_words}."
        )
    beside += " The scatter of the broken specimens is in these counts; shares told elsewhere are of true strength."
    return Plot(
        name="held-out",
        title="Held-out checks: predicted against broken",
        description=(
            f"Own batch, {len(points)} checks on batches that were held out of choosing, beyond "
            f"{words.share(tolerance)}: {own_words}.{beside}"
        ),
        caption=f"Own batch, read with its own curve: {len(points)} checks on batches that were held out of choosing, "
        f"beyond {words.share(tolerance)}: {own_words}.{beside}",
        across=across,
        up=up,
        layers=tuple(layers),
        height_px=400.0,
    )


def _marks(points: list[HeldOutPoint], target: str, *, shape: Shape) -> Marks:
    return Marks(
        points=tuple((point.actual_mpa, point.predicted_mpa) for point in points),
        radius_px=(5.0,) * len(points),
        shape=shape,
        hints=tuple(
            f"{words.clean(point.batch, limit=40)}, {target}: predicted {point.predicted_mpa:.1f}, "
            f"broken at {point.actual_mpa:.1f} MPa, {words.clean(point.condition, limit=60)}"
            for point in points
        ),
        label=f"own batch, target {target}",
    )


def _counted(points: Sequence[HeldOutPoint], tolerance: float) -> str:
    n_over = sum(point.predicted_mpa > point.actual_mpa * (1 + tolerance) for point in points)
    n_under = sum(point.predicted_mpa < point.actual_mpa * (1 - tolerance) for point in points)
    return f"{n_over} over-predicted, {n_under} under-predicted"


def _later_marks(points: list[HeldOutPoint]) -> Marks:
    return Marks(
        points=tuple((point.actual_mpa, point.predicted_mpa) for point in points),
        radius_px=(2.5,) * len(points),
        shape="ring",
        tone="third",
        hints=tuple(
            f"later pour {words.clean(point.batch, limit=40)} read with the curve of "
            f"{words.clean(point.trial_batch, limit=40)}: predicted {point.predicted_mpa:.1f}, broken at "
            f"{point.actual_mpa:.1f} MPa, {words.clean(point.condition, limit=60)}"
            for point in points
        ),
        label="later pour",
    )
