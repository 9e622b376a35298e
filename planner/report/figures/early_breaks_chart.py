"""What early breaks of every later pour do to its reading: error and assured range against specimens of a pour."""

from __future__ import annotations

from planner.report.figures.drawing.plot import Axis, Layer, Line, Marks, Note, Plot, Point
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text import words
from planner.terms.results.after_casting.early_answer import EarlyBreakRow
from planner.terms.results.recommended.recommendation import Recommendation


def early_plot(advice: Recommendation) -> Plot | None:
    """None where the plan foresees no early breaks, or nothing can be said of them."""
    answer = advice.early_breaks
    if answer is None or len(answer.rows) < 2:
        return None
    rows = answer.rows
    assured = words.whole_share(advice.assurance)
    error = _line(rows, [row.rms for row in rows])
    within = _line(rows, [row.reads_within for row in rows])
    rival = tuple((float(row.n_specimens), row.rms_rescaled) for row in rows if row.rms_rescaled is not None)
    most = rows[-1].n_specimens
    across = Axis(
        title="specimens that each pour breaks early",
        low=-0.5,
        high=most + 0.5,
        ticks=tuple((float(count), str(count)) for count in range(most + 1)),
    )
    highest = max(advice.tolerance, *(value for _, value in (*error, *within, *rival)))
    layers: list[Layer] = [
        Line(points=((across.low, advice.tolerance), (across.high, advice.tolerance)), tone="second", is_dashed=True),
        Note(
            at=(across.high, advice.tolerance),
            text=f"tolerance {words.share(advice.tolerance)}",
            anchor="end",
            shift_px=(-4.0, 5.0),
        ),
        Line(points=within, tone="main", label=f"{assured} of pours are read within"),
        _marks(within, rows),
        Line(points=error, tone="strong", label="RMS error"),
        _marks(error, rows),
    ]
    if rival:
        layers.append(Line(points=rival, tone="quiet", label="RMS error, trial curve shifted to the same breaks"))
    if answer.recommended is not None:
        layers.append(
            Marks(
                points=(within[answer.recommended],),
                radius_px=(7.0,),
                shape="diamond",
                tone="strong",
                hints=("worth it",),
                label="worth it",
            )
        )
    listed = "; ".join(
        f"{row.label}: {words.share(row.rms)}, {assured} within {words.share(row.reads_within)}" for row in rows
    )
    return Plot(
        name="early-breaks",
        title="What each pour breaks, and how well it is then read",
        description=f"{listed}.",
        caption="Each number of specimens at its best ages, judged on earlier batches held out as the pour.",
        across=across,
        up=linear_axis("relative error of a later pour", highest * 1.05, is_percent=True),
        layers=tuple(layers),
    )


def _line(rows: tuple[EarlyBreakRow, ...], values: list[float]) -> tuple[Point, ...]:
    return tuple((float(row.n_specimens), value) for row, value in zip(rows, values, strict=True))


def _marks(points: tuple[Point, ...], rows: tuple[EarlyBreakRow, ...]) -> Marks:
    return Marks(points=points, radius_px=(3.5,) * len(points), tone="quiet", hints=tuple(row.label for row in rows))
