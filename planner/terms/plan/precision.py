"""What standards state of the scatter of replicates, by geometry."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.terms.plan.geometry import NOMINAL_SIZES, is_size, sizes_mm

# Acceptable range of 2, 3 and 4 results as a multiple of their standard deviation: ASTM C670.
# Beyond four the 95 % points of the studentised range with known deviation, recomputed in the tests.
RANGE_MULTIPLIERS = {
    2: 2.8, 3: 3.3, 4: 3.6, 5: 3.86, 6: 4.03, 7: 4.17, 8: 4.29, 9: 4.39, 10: 4.47, 11: 4.55, 12: 4.62,
    13: 4.68, 14: 4.74, 15: 4.80, 16: 4.85, 17: 4.89, 18: 4.93, 19: 4.97, 20: 5.01,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Precision:
    """What a standard states of replicates of one operator on one day."""

    source: str  # the standard, with where the figure comes from
    within_test_cv: float  # relative
    strengths_mpa: tuple[float, float] = (0.0, math.inf)  # for which it is stated


C39, EN_12390_3 = "ASTM C39", "EN 12390-3"
# Within-test coefficient of variation and strengths, all from memory.
_OF_SIZES = dict(
    zip(
        NOMINAL_SIZES,
        (
            Precision(C39, 0.032, (17.0, 32.0)),
            Precision(C39, 0.024, (12.0, 55.0)),
            Precision(EN_12390_3, 0.032),
            Precision(EN_12390_3, 0.032),
        ),
        strict=True,
    )
)


def stated_precision(geometry: str) -> Precision | None:
    """Give the precision statement that belongs to a geometry; None where none is known to this program.

    ASTM C39 speaks of cylinders of 100x200 and 150x300 mm alone, EN 12390-3 of cubes of 100 and 150 mm: other sizes
    are held to neither.
    """
    try:
        shape, sizes = sizes_mm(geometry)
    except ValueError:
        return None
    if shape == "cube" and len(set(sizes)) == 1:
        sizes = sizes[:1]
    for (named, nominal), stated in _OF_SIZES.items():
        if shape == named and is_size(sizes, nominal):
            return stated
    return None
