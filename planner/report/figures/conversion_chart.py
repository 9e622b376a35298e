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


def _plot(found: ConversionFigures) -> Plot:
    strongest = max(line.from_mpa for line in found.table)
    upmost = max(max(pair.to_mpa for pair in found.pairs), max(line.upper_mpa for line in found.table))
    band = [(line.from_mpa, line.upper_mpa) for line in found.table]
    band += [(line.from_mpa, line.lower_mpa) for line in reversed(found.table)]
    hints = tuple(
        f"{pair.batch}, {pair.curing}, {age_label(pair.age_h)}: {pair.from_mpa:.1f} and {pair.to_mpa:.1f} MPa"
        for pair in found.pairs
    )
    return Plot(
        name="conversion",
        title=f"{found.from_geometry} read as {found.to_geometry}",
        description=(
            f"{found.n_pairs} pairs of means from {found.n_batches} batches; {line_words(found)}; error beyond them "
            f"{error_words(found)}."
        ),
        caption="Each mark is one batch at one age; the band holds 9 in 10 other batches.",
        across=linear_axis(f"{found.from_geometry}, MPa", strongest),
        up=linear_axis(f"{found.to_geometry}, MPa", upmost),
        layers=(
            Area(points=tuple(band), label="9 in 10 other batches"),
            Line(points=tuple((line.from_mpa, line.to_mpa) for line in found.table), label="conversion"),
            Marks(
                points=tuple((pair.from_mpa, pair.to_mpa) for pair in found.pairs),
                radius_px=(DOT_PX,) * len(found.pairs),
                tone="second",
                hints=hints,
                label="pairs cast together",
            ),
        ),
    )
