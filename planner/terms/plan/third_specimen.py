"""When two replicates call for a third specimen, by the standard that governs their geometry."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.plan.geometry import is_cylinder
from planner.terms.plan.precision import stated_precision

RANGE_OF_TWO = 2.8  # acceptable range of two results over their coefficient of variation: ASTM C670 (memory)


@dataclass(frozen=True, slots=True)
class ThirdSpecimenRule:
    """How far two replicates may lie apart."""

    most_range: float  # of their mean
    source: str


C1074_RULE = ThirdSpecimenRule(0.10, "ASTM C1074, from memory")
USUAL_RULE = ThirdSpecimenRule(0.10, "common practice, no source")


def third_specimen_rule(geometry: str) -> ThirdSpecimenRule:
    """Give the rule of a geometry.

    ASTM C1074 speaks of cylinders and names its own limit. Others are held to the acceptable range of their own
    precision statement, where one is known; else the same 10 % is no more than custom.
    """
    if is_cylinder(geometry):
        return C1074_RULE
    stated = stated_precision(geometry)
    if stated is None:
        return USUAL_RULE
    return ThirdSpecimenRule(
        RANGE_OF_TWO * stated.within_test_cv, f"acceptable range of two, {stated.source}, from memory"
    )
