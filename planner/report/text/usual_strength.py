"""The strength that earlier batches usually had at an age."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean

from planner.terms.results.recommendation import GrowthPoint

NEAR = 1e-6  # ages closer than this share are one


def logs_at(growth: Sequence[GrowthPoint], *, age_h: float, curing: str) -> list[float]:
    """Logarithm of the strength of every batch at this age and curing [ln MPa]."""
    by_batch: dict[str, list[float]] = {}
    for point in growth:
        if point.curing == curing and abs(point.age_h / age_h - 1.0) < NEAR:
            by_batch.setdefault(point.batch, []).append(math.log(point.strength_mpa))
    return [fmean(values) for values in by_batch.values()]


def usual_mpa(growth: Sequence[GrowthPoint], *, age_h: float, curing: str = "standard") -> float | None:
    """Geometric mean over batches [MPa]; None where none was broken so."""
    logs = logs_at(growth, age_h=age_h, curing=curing)
    return math.exp(fmean(logs)) if logs else None
