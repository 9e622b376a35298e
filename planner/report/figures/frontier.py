"""Error against specimens: the best real schedule for each count, with the tolerance as a line.

Drawn is the error on batches left out. Where nothing could be left out it is the apparent one, and the legend says so.
"""

from __future__ import annotations

from planner.report.figures.drawing.plot import Axis, Line, Marks, Note, Plot
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text import words
from planner.terms.labels import schedule_label
from planner.terms.results.recommendation import FrontierPoint, Recommendation

MOST_NAMED = 12


def frontier_plot(told: Recommendation) -> Plot | None:
    """None where no frontier was computed."""
    points = told.frontier
    if not points:
        return None
    chosen = told.recommended
    own = told.honest.own_batch
    is_honest = own is not None and all(point.nested_rms is not None for point in points)
    drawn = tuple((float(point.n_specimens), _error_of(point, is_honest=is_honest)) for point in points)
    chosen_rms = own.nested_rms if own is not None and is_honest else chosen.error.rms
    up = linear_axis("RMS error", max(*(rms for _, rms in drawn), told.tolerance, chosen_rms) * 1.05, is_percent=True)
    counts = [point.n_specimens for point in points] + [chosen.schedule.n_specimens]
    across = _count_axis(min(counts), max(counts))
    hints = tuple(f"{point.n_specimens} specimens: {schedule_label(point.schedule)}" for point in points)
    label = "own batch, by batches left out" if is_honest else f"apparent, on {words.judges_words(told)}"
    layers: list[Line | Marks | Note] = [
        *(_tolerance(across, told.tolerance) if words.is_error_promised(told) else ()),
        Line(points=drawn, label=label),
        Marks(points=drawn, radius_px=(3.5,) * len(points), hints=hints),
    ]
    at = (float(chosen.schedule.n_specimens), chosen_rms)
    layers.append(
        Marks(
            points=(at,),
            radius_px=(7.0,),
            shape="diamond",
            tone="strong",
            hints=("recommended",),
            label="recommended",
        )
    )
    return Plot(
        name="frontier",
        title="Error against specimens",
        description=_description(drawn, told, is_honest=is_honest),
        caption=(
            "Line: the schedule of lowest score with each number of specimens. The recommended one is the cheapest "
            "that these records cannot tell from the best; it may lie off the line."
        ),
        across=across,
        up=up,
        layers=tuple(layers),
    )


def _tolerance(across: Axis, tolerance: float) -> tuple[Line, Note]:
    return (
        Line(points=((across.low, tolerance), (across.high, tolerance)), tone="second", is_dashed=True),
        Note(
            at=(across.high, tolerance),
            text=f"tolerance {words.share(tolerance)}",
            anchor="end",
            shift_px=(-4.0, 5.0),
        ),
    )


def _count_axis(fewest: int, most: int) -> Axis:
    step = max(1, -(-(most - fewest) // MOST_NAMED))
    ticks = tuple((float(count), str(count)) for count in range(fewest, most + 1, step))
    return Axis(title="specimens broken", low=fewest - 0.5, high=most + 0.5, ticks=ticks)


def _error_of(point: FrontierPoint, *, is_honest: bool) -> float:
    return point.nested_rms if is_honest and point.nested_rms is not None else point.rms


def _description(drawn: tuple[tuple[float, float], ...], told: Recommendation, *, is_honest: bool) -> str:
    listed = "; ".join(f"{count:.0f} specimens {words.share(rms)}" for count, rms in drawn)
    told_of = words.legend(told, f"Tolerance {words.share(told.tolerance)}.")
    kind = "on batches left out" if is_honest else "apparent"
    return (
        f"Least RMS error by number of specimens, {kind}: {listed}. {told_of} "
        f"The recommended schedule has {told.recommended.schedule.n_specimens} specimens."
    )
