"""A picture as inline SVG. Colours come from the page's style sheet: dark screens and grey prints alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from html import escape

from planner.report.figures.drawing.plot import Area, Axis, Layer, Line, Marks, Note, Plot, Point, Shape
from planner.report.figures.drawing.shown_plot import plot_shown

WIDTH = 720.0
TOP, BOTTOM = 34.0, 46.0
KEY_ROW = 22.0
KEY_CHARACTER = 7.4  # average width of a character in the key
TICK_DROP = 16.0

Place = Callable[[Point], Point]


def draw_svg(plot: Plot) -> str:
    """Draw the picture; everything in it is escaped, its description is its text alternative."""
    plot = plot_shown(plot)
    keys = [layer for layer in plot.layers if not isinstance(layer, Note) and layer.label]
    key_rows = _key_rows(keys)
    top = TOP + KEY_ROW * len(key_rows)
    height = plot.height_px + KEY_ROW * len(key_rows)
    place = _placing(plot, top=top, bottom=height - BOTTOM)
    title, found = f"figure-{plot.name}-title", f"figure-{plot.name}-told"
    parts = [
        f'<svg class="figure" viewBox="0 0 {WIDTH:g} {height:g}" role="img" '
        f'aria-labelledby="{title} {found}" xmlns="http://www.w3.org/2000/svg">',
        f'<title id="{title}">{escape(plot.title)}</title>',
        f'<desc id="{found}">{escape(plot.description)}</desc>',
        *_axes(plot, place, bottom=height - BOTTOM),
        *(_layer(layer, place) for layer in sorted(plot.layers, key=_depth)),
        *_key(key_rows),
        "</svg>",
    ]
    return "".join(parts)


def _depth(layer: Layer) -> int:
    """Areas behind lines behind marks behind words."""
    return (Area, Line, Marks, Note).index(type(layer))


def _placing(plot: Plot, *, top: float, bottom: float) -> Place:
    left, right = plot.left_px, WIDTH - plot.right_px
    across, up = share_along(plot.across), share_along(plot.up)

    def place(point: Point) -> Point:
        return left + (right - left) * across(point[0]), bottom - (bottom - top) * up(point[1])

    return place


def share_along(axis: Axis) -> Callable[[float], float]:
    """From a value on the axis to its share of the axis' length."""
    if axis.is_log:
        low, high = math.log(axis.low), math.log(axis.high)
        return lambda value: (math.log(value) - low) / (high - low)
    return lambda value: (value - axis.low) / (axis.high - axis.low)


def _axes(plot: Plot, place: Place, *, bottom: float) -> Iterable[str]:
    across, up = plot.across, plot.up
    left, right = place((across.low, up.low))[0], place((across.high, up.low))[0]
    top = place((across.low, up.high))[1]
    for value, name in across.ticks:
        spot = place((value, up.low))[0]
        yield f'<path class="grid" d="M{spot:.1f} {top:.1f}V{bottom:.1f}"/>'
        yield _words(spot, bottom + TICK_DROP, name, anchor="middle")
    for value, name in up.ticks:
        spot = place((across.low, value))[1]
        yield f'<path class="grid" d="M{left:.1f} {spot:.1f}H{right:.1f}"/>'
        yield _words(left - 8.0, spot + 4.0, name, anchor="end")
    yield f'<path class="axis" d="M{left:.1f} {top:.1f}V{bottom:.1f}H{right:.1f}"/>'
    yield _words(right, bottom + 2.3 * TICK_DROP, across.title, anchor="end", style="axis-title")
    yield _words(8.0, top - 16.0, up.title, anchor="start", style="axis-title")


def _layer(layer: Layer, place: Place) -> str:
    if isinstance(layer, Area):
        return f'<path class="area tone-{layer.tone}" d="{_path(layer.points, place)}Z"/>'
    if isinstance(layer, Line):
        dashed = " dashed" if layer.is_dashed else ""
        return f'<path class="line tone-{layer.tone}{dashed}" d="{_path(layer.points, place)}"/>'
    if isinstance(layer, Marks):
        hints = layer.hints or ("",) * len(layer.points)
        return "".join(
            _mark(place(point), radius, shape=layer.shape, tone=layer.tone, hint=hint)
            for point, radius, hint in zip(layer.points, layer.radius_px, hints, strict=True)
        )
    spot = place(layer.at)
    style = "note strong" if layer.is_strong else "note"
    return _words(
        spot[0] + layer.shift_px[0], spot[1] - layer.shift_px[1], layer.text, anchor=layer.anchor, style=style
    )


def _path(points: Iterable[Point], place: Place) -> str:
    spots = (place(point) for point in points)
    return "M" + "L".join(f"{right:.1f} {down:.1f}" for right, down in spots)


def _mark(spot: Point, radius: float, *, shape: Shape, tone: str, hint: str = "") -> str:
    text = f"<title>{escape(hint)}</title>" if hint else ""
    right, down = spot
    if shape in ("dot", "ring"):
        at = f'cx="{right:.1f}" cy="{down:.1f}" r="{radius:.1f}"'
        return f'<circle class="mark {shape} tone-{tone}" {at}>{text}</circle>'
    corners = {
        "square": ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)),
        "diamond": ((0.0, -1.2), (1.2, 0.0), (0.0, 1.2), (-1.2, 0.0)),
        "triangle": ((0.0, -1.2), (1.1, 0.9), (-1.1, 0.9)),
        "tick": ((-0.2, -1.5), (0.2, -1.5), (0.2, 1.5), (-0.2, 1.5)),
    }[shape]
    outline = "L".join(f"{right + radius * dx:.1f} {down + radius * dy:.1f}" for dx, dy in corners)
    return f'<path class="mark tone-{tone}" d="M{outline}Z">{text}</path>'


def _key_rows(keys: list[Area | Line | Marks]) -> list[list[tuple[float, Area | Line | Marks]]]:
    """Key entries in rows that fit the width, each with its left edge."""
    rows: list[list[tuple[float, Area | Line | Marks]]] = []
    left = WIDTH
    for layer in keys:
        wide = 40.0 + KEY_CHARACTER * len(layer.label)
        if left + wide > WIDTH:
            rows.append([])
            left = 12.0
        rows[-1].append((left, layer))
        left += wide
    return rows


def _key(rows: list[list[tuple[float, Area | Line | Marks]]]) -> Iterable[str]:
    for place, row in enumerate(rows):
        down = 14.0 + KEY_ROW * place
        for left, layer in row:
            yield _key_sign(left, down, layer)
            yield _words(left + 28.0, down + 4.0, layer.label, anchor="start")


def _key_sign(left: float, down: float, layer: Area | Line | Marks) -> str:
    if isinstance(layer, Area):
        return f'<path class="area tone-{layer.tone}" d="M{left:.1f} {down - 6:.1f}h22v12h-22Z"/>'
    if isinstance(layer, Line):
        dashed = " dashed" if layer.is_dashed else ""
        return f'<path class="line tone-{layer.tone}{dashed}" d="M{left:.1f} {down:.1f}h22"/>'
    return _mark((left + 11.0, down), min(6.0, layer.radius_px[0]), shape=layer.shape, tone=layer.tone)


def _words(right: float, down: float, text: str, *, anchor: str, style: str = "tick") -> str:
    if not text:
        return ""
    return f'<text class="{style}" x="{right:.1f}" y="{down:.1f}" text-anchor="{anchor}">{escape(text)}</text>'
