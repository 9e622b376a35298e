"""Pairs of two geometries with the conversion through them and the band of new batches."""

from __future__ import annotations

from planner.report.figures.drawing.plot import Area, Line, Marks, Plot
from planner.report.figures.drawing.ticks import linear_axis
from planner.report.text.conversion_words import error_words, line_words
from planner.terms.labels import age_label
from planner.terms.results.geometry.conversion_figures import ConversionFigures
from planner.terms.results.recommended.recommendation import Recommendation

DOT_PX = 4.0


def conversion_plot(advice: Recommendation) -> Plot | None:
    """None where the recommended geometry needs no conversion, or none that pairs tell."""
    answer = advice.geometries
    found = None if answer is None else answer.conversion
    return None if found is None or not found.pairs else _plot(found)


def _plot(conversion: ConversionFigures) -> Plot:
    strongest = max(line.from_mpa for line in conversion.table)
    upmost = max(max(pair.to_mpa for pair in conversion.pairs), max(line.upper_mpa for line in conversion.table))
    band = [(line.from_mpa, line.upper_mpa) for line in conversion.table]
    band += [(line.from_mpa, line.lower_mpa) for line in reversed(conversion.table)]
    hints = tuple(
        f"{pair.batch}, {pair.curing}, {age_label(pair.age_h)}: {pair.from_mpa:.1f} and {pair.to_mpa:.1f} MPa"
        for pair in conversion.pairs
    )
    return Plot(
        name="conversion",
        title=f"{conversion.from_geometry} read as {conversion.to_geometry}",
        description=(
            f"{conversion.n_pairs} pairs of means from {conversion.n_batches} batches; {line_words(conversion)}; "
            f"error beyond them {error_words(conversion)}."
        ),
        caption="Each mark is one batch at one age; the band holds 9 in 10 other batches.",
        across=linear_axis(f"{conversion.from_geometry}, MPa", strongest),
        up=linear_axis(f"{conversion.to_geometry}, MPa", upmost),
        layers=(
            Area(points=tuple(band), label="9 in 10 other batches"),
            Line(points=tuple((line.from_mpa, line.to_mpa) for line in conversion.table), label="conversion"),
            Marks(
                points=tuple((pair.from_mpa, pair.to_mpa) for pair in conversion.pairs),
                radius_px=(DOT_PX,) * len(conversion.pairs),
                tone="second",
                hints=hints,
                label="pairs cast together",
            ),
        ),
    )
