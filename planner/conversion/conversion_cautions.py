"""What is said of breaks that are converted, or stand beside others that are not."""

from __future__ import annotations

from collections.abc import Iterator

from planner.terms.labels import counted
from planner.terms.problems import Caution
from planner.terms.results.after_casting.curve_conversion import CurveConversion


def of_both_geometries(n_unused: int, conversion: CurveConversion, file: str) -> Iterator[Caution]:
    """Breaks beside others that count in their place."""
    if n_unused:
        yield Caution(
            "breaks-of-both-geometries",
            f"Not used: {counted(n_unused, 'break')} of {file} beside others that count instead, "
            f"{conversion.to_geometry} not cured on site, or {conversion.from_geometry} where "
            f"{conversion.to_geometry} was measured. Put them "
            "into the records, where they are further pairs.",
        )
