"""Error against specimens: the best real schedule for each count, with the tolerance as a line."""

from __future__ import annotations

from ...terms.labels import schedule_label
from ...terms.recommendation import FrontierPoint, Recommendation
from .. import words
from .plot import Axis, Line, Marks, Note, Plot
from .ticks import linear_axis

MOST_NAMED = 12


def frontier_plot(told: Recommendation) -> Plot | None:
    """None where no frontier was computed."""
    points = told.frontier
    if not points:
        return None
    chosen = told.recommended
    nested = tuple((float(point.n_specimens), point.nested_rms) for point in points if point.nested_rms is not None)
    errors = [point.rms for point in points] + [rms for _, rms in nested] + [told.tolerance, chosen.error.rms]
    up = linear_axis("RMS error", max(errors) * 1.05, is_percent=True)
    counts = [point.n_specimens for point in points] + [chosen.schedule.n_specimens]
    across = _count_axis(min(counts), max(counts))
    hints = tuple(f"{point.n_specimens} specimens: {schedule_label(point.schedule)}" for point in points)
    apparent = tuple((float(point.n_specimens), point.rms) for point in points)
    layers: list[Line | Marks | Note] = [
        *(_tolerance(across, told.tolerance) if words.is_error_promised(told) else ()),
        Line(points=apparent, label=f"on {words.judges_words(told)}"),
        Marks(points=apparent, radius_px=(3.5,) * len(points), hints=hints),
    ]
    if nested:
        layers.append(Line(points=nested, tone="third", is_dashed=True, label="on a batch not in the records"))
        layers.append(Marks(points=nested, radius_px=(3.5,) * len(nested), shape="square", tone="third"))
    at = (float(chosen.schedule.n_specimens), chosen.error.rms)
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
        description=_description(points, told),
        caption="The best schedule with each number of specimens.",
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


def _description(points: tuple[FrontierPoint, ...], told: Recommendation) -> str:
    listed = "; ".join(f"{point.n_specimens} specimens {words.share(point.rms)}" for point in points)
    told_of = words.legend(told, f"Tolerance {words.share(told.tolerance)}.")
    return (
        f"Least apparent RMS error by number of specimens: {listed}. {told_of} "
        f"The recommended schedule has {told.recommended.schedule.n_specimens} specimens."
    )
