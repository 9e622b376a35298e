"""Bars lying in named rows, with their figure at the end."""

from __future__ import annotations

from collections.abc import Sequence

from planner.report.figures.drawing.plot import Area, Axis, Line, Note, Tone

HALF_HEIGHT = 0.3
ROW_PX = 26.0


def bar_layers(figures: Sequence[tuple[float, str, Tone]]) -> list[Area | Line | Note]:
    """One bar a row from 0 to its figure, the first on top; the text stands behind its end."""
    layers: list[Area | Line | Note] = []
    for place, (figure, text, tone) in enumerate(figures):
        row = float(len(figures) - 1 - place)
        low, high = row - HALF_HEIGHT, row + HALF_HEIGHT
        layers.append(Area(points=((0.0, low), (figure, low), (figure, high), (0.0, high)), tone=tone))
        layers.append(Note(at=(figure, row), text=text, shift_px=(6.0, -4.0)))
    return layers


def bars_height(n_rows: int) -> float:
    """Pixels that so many rows need."""
    return 76.0 + ROW_PX * n_rows


def reference_line(at: float, up: Axis) -> Line:
    """An upright line to compare the bars with."""
    return Line(points=((at, up.low), (at, up.high)), tone="second", is_dashed=True)
