"""What is said of breaks that are converted, or stand beside others that are not."""

from __future__ import annotations

from collections.abc import Iterator

from planner.terms.problems import Caution
from planner.terms.results.after_casting.curve_conversion import CurveConversion


def of_both_geometries(n_unused: int, conversion: CurveConversion, file: str) -> Iterator[Caution]:
    """Breaks beside others that count in their place."""
    if n_unused:
        yield Caution(
            "breaks-of-both-geometries",
            f"{n_unused} breaks of {file} lie beside others that count in their place: {conversion.to_geometry} not "
            f"cured on site, or {conversion.from_geometry} where {conversion.to_geometry} was measured. They are not "
            "used; put them into the records, where they are further pairs.",
        )
