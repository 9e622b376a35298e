"""The same pictures as PNG and SVG files, drawn without a screen."""

from __future__ import annotations

import io
from typing import Any, Literal

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import NullLocator

from planner.report.figures.drawing.plot import Area, Line, Marks, Note, Plot, Shape, Tone
from planner.report.figures.drawing.shown_plot import plot_shown

WIDTH_PX, DOTS_PER_INCH = 720.0, 100.0
POINTS_PER_PX = 72.0 / DOTS_PER_INCH
MOST_KEY_COLUMNS = 3
SHARPNESS = 200  # dots per inch of the PNG
COLOURS: dict[Tone, str] = {
    "main": "#0d5f63",
    "second": "#96321c",
    "third": "#5b4b8a",
    "quiet": "#8a949d",
    "strong": "#1d2329",
}
MARKERS: dict[Shape, str] = {
    "dot": "o",
    "square": "s",
    "triangle": "^",
    "diamond": "D",
    "ring": "o",
    "tick": "|",
}
ANCHORS: dict[str, Literal["left", "center", "right"]] = {"start": "left", "middle": "center", "end": "right"}
STYLE: dict[Any, Any] = {"svg.hashsalt": "test-ages", "font.size": 9.0, "text.parse_math": False}


def draw_image(plot: Plot, kind: Literal["png", "svg"]) -> bytes:
    """Draw one picture; the same picture gives the same bytes."""
    with rc_context(STYLE):
        figure = figure_of(plot)
        stream = io.BytesIO()
        metadata = {"Description": plot_shown(plot).description} | ({"Date": None} if kind == "svg" else {})
        figure.savefig(stream, format=kind, metadata=metadata, dpi=SHARPNESS)
    return stream.getvalue()


def figure_of(plot: Plot) -> Figure:
    """One picture as a figure of matplotlib."""
    plot = plot_shown(plot)
    with rc_context(STYLE):
        height = (plot.height_px + 40.0) / DOTS_PER_INCH
        figure = Figure(figsize=(WIDTH_PX / DOTS_PER_INCH, height), layout="constrained")
        axes = figure.add_subplot()
        _set_axes(axes, plot)
        for layer in plot.layers:
            _draw(axes, layer)
        if any(not isinstance(layer, Note) and layer.label for layer in plot.layers):
            _add_key(figure)
    return figure


def _add_key(figure: Figure) -> None:
    """A key above the picture, in as many columns as its width holds."""
    for n_columns in range(MOST_KEY_COLUMNS, 0, -1):
        key = figure.legend(loc="outside upper left", ncols=n_columns, frameon=False)
        figure.draw_without_rendering()
        if n_columns == 1 or key.get_window_extent().x1 <= figure.bbox.x1:
            return
        key.remove()


def _set_axes(axes: Axes, plot: Plot) -> None:
    axes.set_title(plot.title, loc="left", fontweight="bold", pad=18.0)
    axes.set_xscale("log" if plot.across.is_log else "linear")
    axes.set_yscale("log" if plot.up.is_log else "linear")
    for axis, side in ((plot.across, axes.xaxis), (plot.up, axes.yaxis)):
        side.set_ticks([value for value, _ in axis.ticks], [name for _, name in axis.ticks])
        side.set_minor_locator(NullLocator())
        side.set_label_text(axis.title)
    axes.set_xlim(plot.across.low, plot.across.high)
    axes.set_ylim(plot.up.low, plot.up.high)
    axes.grid(color="#d5dade", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)


def _draw(axes: Axes, layer: Area | Line | Marks | Note) -> None:
    if isinstance(layer, Note):
        axes.annotate(
            layer.text,
            layer.at,
            xytext=(layer.shift_px[0] * POINTS_PER_PX, layer.shift_px[1] * POINTS_PER_PX),
            textcoords="offset points",
            ha=ANCHORS[layer.anchor],
            fontweight="bold" if layer.is_strong else "normal",
            annotation_clip=False,
        )
        return
    across, up = zip(*layer.points, strict=True)
    colour, label = COLOURS[layer.tone], layer.label or None
    if isinstance(layer, Area):
        axes.fill(across, up, color=colour, alpha=0.3 if layer.tone == "quiet" else 0.85, linewidth=0, label=label)
    elif isinstance(layer, Line):
        axes.plot(across, up, color=colour, linewidth=1.4, linestyle="--" if layer.is_dashed else "-", label=label)
    else:
        axes.scatter(
            across,
            up,
            s=[(2.0 * radius * POINTS_PER_PX) ** 2 for radius in layer.radius_px],
            marker=MARKERS[layer.shape],
            facecolors="white" if layer.shape == "ring" else colour,
            edgecolors=colour if layer.shape == "ring" else "white",
            linewidths=1.4 if layer.shape == "ring" else 0.6,
            zorder=3.0,
            label=label,
        )
