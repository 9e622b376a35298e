"""Error against specimens: the best real schedule for each count, with the tolerance as a line.

Drawn is the error on batches left out. Where nothing could be left out it is the apparent one, and the legend says so.
"""

from __future__ import annotations

from planner.report.figures.drawing.plot import Axis, Line, Marks, Note, Plot
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text import words
from planner.terms.labels import schedule_label
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.plotted_points import FrontierPoint
from planner.terms.results.recommended.recommendation import Recommendation

MOST_NAMED = 12


def frontier_plot(advice: Recommendation) -> Plot | None:
    """None where no frontier was computed."""
    points = advice.frontier
    if not points:
        return None
    chosen = advice.recommended
    own = advice.honest.own_batch
    is_honest = own is not None and all(point.nested_rms is not None for point in points)
    drawn = tuple((float(point.n_specimens), _error_of(point, is_honest=is_honest)) for point in points)
    chosen_rms = own.nested_rms if own is not None and is_honest else chosen.error.rms
    later = _later(advice)
    counts = [point.n_specimens for point in points] + [chosen.schedule.n_specimens]
    counts += [int(count) for count, _, _ in later]
    across = _count_axis(min(counts), max(counts))
    heights = (*(rms for _, rms in drawn), *(rms for _, rms, _ in later), advice.tolerance, chosen_rms)
    up = linear_axis("RMS error", max(heights) * 1.05, is_percent=True)
    hints = tuple(f"{point.n_specimens} specimens: {schedule_label(point.schedule)}" for point in points)
    label = "own batch, by batches left out" if is_honest else f"apparent, on {words.judges_words(advice)}"
    layers: list[Line | Marks | Note] = [
        *(_tolerance(across, advice.tolerance) if words.is_error_promised(advice) else ()),
        Line(points=drawn, label=label),
        Marks(points=drawn, radius_px=(3.5,) * len(points), hints=hints),
    ]
    recommended = [(float(chosen.schedule.n_specimens), chosen_rms)]
    if later:
        reads = tuple((count, rms) for count, rms, _ in later)
        layers.append(Line(points=reads, tone="third", label="later pour, fixed programmes"))
        layers.append(
            Marks(points=reads, radius_px=(3.5,) * len(reads), tone="third", hints=tuple(hint for *_, hint in later))
        )
        assert advice.spending is not None
        recommended.append((float(chosen.schedule.n_specimens), advice.spending.recommended.headline_rms))
    layers.append(
        Marks(
            points=tuple(recommended),
            radius_px=(7.0,) * len(recommended),
            shape="diamond",
            tone="strong",
            hints=("recommended, own batch", "recommended, later pour")[: len(recommended)],
            label="recommended",
        )
    )
    return Plot(
        name="frontier",
        title="Error against specimens",
        description=_description(drawn, advice, is_honest=is_honest),
        caption=(
            "Own batch: the schedule of lowest score with each number of specimens, read on its own concrete; the "
            "recommended one may lie off that line. "
            + ("Later pour: programmes of as many trial batches as are recommended." if later else "")
        ).strip(),
        across=across,
        up=up,
        layers=tuple(layers),
    )


def _later(advice: Recommendation) -> tuple[tuple[float, float, str], ...]:
    """Specimens of each trial batch, later-pour error and hint of the fixed programmes; () where it is unknown."""
    money = advice.spending
    if money is None or money.recommended.next_batch is None:
        return ()
    number = money.recommended.n_trial_batches
    listed = [item for item in money.programmes if item.n_trial_batches == number and item.next_batch is not None]
    least: dict[int, Programme] = {}
    for item in listed:
        held = least.get(item.schedule.n_specimens)
        if item == money.recommended or held is None or (held != money.recommended and _reads(item) < _reads(held)):
            least[item.schedule.n_specimens] = item
    return tuple(
        (
            float(count),
            _reads(item),
            f"later pour, {count} specimens in each trial batch: {schedule_label(item.schedule)}",
        )
        for count, item in sorted(least.items())
    )


def _reads(item: Programme) -> float:
    return item.headline_rms


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


def _description(drawn: tuple[tuple[float, float], ...], advice: Recommendation, *, is_honest: bool) -> str:
    listed = "; ".join(f"{count:.0f} specimens {words.share(rms)}" for count, rms in drawn)
    told_of = words.legend(advice, f"Tolerance {words.share(advice.tolerance)}.")
    kind = "on batches left out" if is_honest else "apparent"
    later = "; ".join(f"{count:.0f} specimens {words.share(rms)}" for count, rms, _ in _later(advice))
    beside = f" On later pours, fixed programmes: {later}." if later else ""
    return (
        f"Least RMS error by number of specimens, own batch, {kind}: {listed}.{beside} {told_of} "
        f"The recommended schedule has {advice.recommended.schedule.n_specimens} specimens."
    )
