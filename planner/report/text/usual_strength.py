"""The strength that earlier batches usually had at an age."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean

from planner.terms.records import CURINGS
from planner.terms.results.recommended.plotted_points import GrowthPoint

NEAR = 1e-6  # ages closer than this share are one


def logs_at(growth: Sequence[GrowthPoint], *, age_h: float, curing: str) -> list[float]:
    """Logarithm of the strength of every batch at this age and curing [ln MPa]; on site each place counts apart."""
    found: dict[tuple[str, str], list[float]] = {}
    for point in growth:
        if _is_cured_so(point, curing) and abs(point.age_h / age_h - 1.0) < NEAR:
            found.setdefault((point.batch, point.curing), []).append(math.log(point.strength_mpa))
    return [fmean(values) for values in found.values()]


def _is_cured_so(point: GrowthPoint, curing: str) -> bool:
    """Site-cured companions bear the name of their place where the records tell places apart."""
    return point.curing == curing or (curing == "site" and point.curing not in CURINGS)


def usual_mpa(growth: Sequence[GrowthPoint], *, age_h: float, curing: str = "standard") -> float | None:
    """Geometric mean over batches [MPa]; None where none was broken so."""
    logs = logs_at(growth, age_h=age_h, curing=curing)
    return math.exp(fmean(logs)) if logs else None
