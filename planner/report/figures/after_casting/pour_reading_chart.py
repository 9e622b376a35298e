"""The picture of one pour: its early breaks, its reading with the safe reading, and the issued curve."""

from __future__ import annotations

from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.pour_answer import PourAnswer
from planner.report.figures.after_casting.issued_curve import marks, maturity_axis
from planner.report.figures.drawing.plot import Layer, Line, Plot
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text import words

BEYOND = 2.0  # times the last maturity that is read; later rows would press the decision into a corner


def pour_plot(answer: PourAnswer) -> Plot:
    """Strength over maturity up to twice the last target."""
    _, per_hour = maturity_unit(answer.curve.maturity)
    read = [(row.maturity_h, row.strength_mpa) for row in answer.rows if row.maturity_h is not None]
    last_h = BEYOND * max([cell.maturity_h for cell in answer.early] + [maturity for maturity, _ in read])
    early = [(cell.maturity_h * per_hour, cell.mean_mpa) for cell in answer.early]
    shown = [row for row in answer.table if row.maturity_h <= last_h]
    pour = [(row.maturity_h * per_hour, row.strength_mpa) for row in shown]
    safe = [(row.maturity_h * per_hour, row.safe_mpa) for row in shown if row.safe_mpa is not None]
    alone = [(row.maturity_h * per_hour, row.curve_mpa) for row in shown]
    targets = [(maturity * per_hour, strength) for maturity, strength in read if strength is not None]
    layers: list[Layer] = []
    if alone:
        layers += [
            Line(points=tuple(alone), tone="quiet", label="curve alone"),
            Line(points=tuple(pour), tone="strong", label="this pour"),
        ]
    if safe:
        layers.append(Line(points=tuple(safe), tone="main", is_dashed=True, label="safe reading"))
    layers.append(marks(early, shape="dot", tone="second", label="early breaks"))
    if targets:
        layers.append(marks(targets, shape="ring", tone="strong", label="read at targets"))
    name = words.clean(answer.pour, limit=24)
    text = "; ".join(f"{maturity:.1f}: {strength:.1f} MPa" for maturity, strength in targets)
    return Plot(
        name="pour",
        title=f"Pour {name} over maturity",
        description=f"Read at {text}." if text else "The pour is not read; its early breaks alone are shown.",
        caption="The reading goes through what the early breaks tell, less than all the way: they scatter too.",
        across=maturity_axis(answer.curve, min(maturity for maturity, _ in early), last_h * per_hour),
        up=linear_axis("strength, MPa", 1.05 * max(value for _, value in [*early, *pour, *alone, *targets])),
        layers=tuple(layers),
        height_px=330.0,
    )
