"""A plan that lists cubes and cylinders, in memory, every price and scatter of its own."""

from __future__ import annotations

from planner.terms.plan.settings import (
    Budget,
    ChoiceLimits,
    Costs,
    Laboratory,
    Plan,
    Prior,
    Settings,
    Target,
)
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.records import Records
from tests.conversion.invented_pairs import CUBE, CYLINDER, broken

RATIOS = {"a": 0.80, "b": 0.82, "c": 0.84, "d": 0.86}
LEVELS = {12.0: (17.0, 19.0, 22.0, 24.0), 24.0: (34.0, 36.0, 35.0, 37.0)}  # the stronger, the higher the ratio
CUBES = SpecimenKind(geometry=CUBE, specimen=9.0, break_one=14.0, minutes_per_break=6.0, within_test_cv=0.05)
CYLINDERS = SpecimenKind(geometry=CYLINDER, within_test_cv=0.07)


def records() -> Records:
    """Four batches with cubes and cylinders at 12 h and on site at 16 h; cylinders scatter by 2 %."""
    breaks = []
    for place, (batch, ratio) in enumerate(RATIOS.items()):
        groups = [(age_h, mpa[place], "standard") for age_h, mpa in LEVELS.items()]
        for age_h, mpa, curing in (*groups, (16.0, 30.0, "site")):
            breaks += broken(batch, CUBE, age_h, 0.99 * mpa, 1.01 * mpa, curing=curing)
            breaks += broken(batch, CYLINDER, age_h, 0.98 * ratio * mpa, 1.02 * ratio * mpa, curing=curing)
    return Records(breaks=tuple(breaks))


def plan() -> Plan:
    """The specification speaks of cylinders."""
    settings = Settings(
        target=Target(ages_h=(16.0, 24.0), tolerance=0.1, geometry=CYLINDER),
        choices=ChoiceLimits(ages_h=(12.0, 24.0), fewest_ages=2, most_ages=2, specimens_per_age=(2, 2)),
        budget=Budget(specimens=4),
        prior=Prior(within_test_cv_by_age=((12.0, 0.09),)),
        costs=Costs(currency="EUR", specimen=18.0, preparation=12.0, break_one=25.0, visit=90.0),
        laboratory=Laboratory(minutes_per_break=15.0, machines=2),
        specimens=(CUBES, CYLINDERS),
    )
    return Plan(settings=settings, records=records())
