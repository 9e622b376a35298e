"""A picture in the units asked for: an axis of strengths in psi, and the words beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from planner.report.figures.drawing.plot import Area, Axis, Layer, Line, Marks, Note, Plot, Point
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text.shown_units import are_shown_in_us, column_in, in_words
from planner.units import fahrenheit_from_celsius, psi_from_mpa

AXES: dict[str, Callable[[float], float]] = {", MPa": psi_from_mpa, ", C": fahrenheit_from_celsius}


def plot_shown(plot: Plot) -> Plot:
    """The same picture with its strengths, temperatures, hints and captions in the units asked for."""
    if not are_shown_in_us():
        return plot
    turn_x, turn_y = _turn(plot.across), _turn(plot.up)

    def moved(point: Point) -> Point:
        return turn_x(point[0]), turn_y(point[1])

    return replace(
        plot,
        title=in_words(plot.title),
        description=in_words(plot.description),
        caption=in_words(plot.caption),
        across=_axis(plot.across),
        up=_axis(plot.up),
        layers=tuple(_layer(layer, moved) for layer in plot.layers),
    )


def _turn(axis: Axis) -> Callable[[float], float]:
    return next((turn for end, turn in AXES.items() if axis.title.endswith(end)), lambda value: value)


def _axis(axis: Axis) -> Axis:
    if not any(axis.title.endswith(end) for end in AXES):
        return axis
    turn = _turn(axis)
    title = column_in(axis.title)[0]
    if title.endswith("psi"):
        return replace(linear_axis(title, turn(axis.high), low=turn(axis.low)), has_grid=axis.has_grid)
    ticks = tuple((turn(value), f"{turn(value):g}" if name else "") for value, name in axis.ticks)
    return replace(axis, title=title, low=turn(axis.low), high=turn(axis.high), ticks=ticks)


def _layer(layer: Layer, moved: Callable[[Point], Point]) -> Layer:
    if isinstance(layer, Note):
        return replace(layer, at=moved(layer.at), text=in_words(layer.text))
    points = tuple(moved(point) for point in layer.points)
    if isinstance(layer, Marks):
        return replace(layer, points=points, hints=tuple(map(in_words, layer.hints)), label=in_words(layer.label))
    assert isinstance(layer, Line | Area)
    return replace(layer, points=points, label=in_words(layer.label))
