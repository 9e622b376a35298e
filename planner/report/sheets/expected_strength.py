"""What a specimen will probably break at: strength and load from the earlier batches, for whoever sets the machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from planner.report.sheets.break_rows import pressed_area_mm2
from planner.report.text.usual_strength import logs_at
from planner.terms.results.recommended.plotted_points import GrowthPoint

FEWEST_FOR_RANGE = 3  # batches
WIDE = 2.0  # standard deviations on either side: 19 of 20 batches, about


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Strength [MPa] and load [kN] of one specimen: usual, and the range of 19 of 20 batches."""

    strength_mpa: float
    low_mpa: float | None  # None: too few batches were broken at this age
    high_mpa: float | None
    area_mm2: float | None  # None: the geometry does not tell it

    @property
    def load_kn(self) -> float | None:
        """Usual load."""
        return self._load(self.strength_mpa)

    @property
    def high_kn(self) -> float | None:
        """Highest load to be ready for."""
        return self._load(self.high_mpa)

    @property
    def low_kn(self) -> float | None:
        """Lowest load to be ready for."""
        return self._load(self.low_mpa)

    def _load(self, strength_mpa: float | None) -> float | None:
        if strength_mpa is None or self.area_mm2 is None:
            return None
        return strength_mpa * self.area_mm2 / 1000.0


def expected_at(growth: Sequence[GrowthPoint], *, age_h: float, curing: str, geometry: str) -> Expected | None:
    """Expect what earlier batches had at this age and curing; None where none was broken so.

    Parameters
    ----------
    growth
        Cell means of the earlier batches.
    age_h
        Since age zero [h].
    curing
        As the growth points name it.
    geometry
        Of the specimens to be broken, like ``cylinder 100x200 mm``.
    """
    logs = logs_at(growth, age_h=age_h, curing=curing)
    if not logs:
        return None
    middle = fmean(logs)
    spread = WIDE * stdev(logs) * math.sqrt(1.0 + 1.0 / len(logs)) if len(logs) >= FEWEST_FOR_RANGE else None
    return Expected(
        strength_mpa=math.exp(middle),
        low_mpa=None if spread is None else math.exp(middle - spread),
        high_mpa=None if spread is None else math.exp(middle + spread),
        area_mm2=pressed_area_mm2(geometry),
    )
