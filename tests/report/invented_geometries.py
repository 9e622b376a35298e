"""An invented choice between cubes and cylinders, with every figure written down."""

from __future__ import annotations

from typing import Any

from planner.terms.maturity import MaturitySetting
from planner.terms.results.geometry.conversion_figures import (
    AgeResidual,
    ConversionFigures,
    ConvertedStrength,
    PairPoint,
)
from planner.terms.results.geometry.geometry_options import ErrorParts, GeometryAnswer, GeometryOption, GeometryReason
from planner.terms.results.programme_figures import Programme
from planner.terms.schedule import Schedule

CUBE, CYLINDER = "cube 100 mm", "cylinder 100x200 mm"


def conversion(**changed: Any) -> ConversionFigures:
    """0.8 times, from 10 to 50 MPa, 3 % off at 16 h where cubes have 30 MPa."""
    given: dict[str, Any] = {
        "from_geometry": CUBE, "to_geometry": CYLINDER, "form": "ratio", "n_pairs": 12, "n_batches": 4,
        "ratio": 0.8, "ratio_se": 0.01, "power": (0.7, 1.04),
        "rms_left_out": (("none", 0.21), ("ratio", 0.041), ("power law", 0.043)),
        "deciding": ((16.0, 30.0, 0.03),), "between_batch_cv": 0.025, "span_mpa": (10.0, 50.0),
        "table": (
            ConvertedStrength(from_mpa=10.0, to_mpa=8.0, lower_mpa=7.5, upper_mpa=8.6),
            ConvertedStrength(from_mpa=50.0, to_mpa=40.0, lower_mpa=37.3, upper_mpa=42.9),
        ),
        "pairs": (
            PairPoint(batch="B1", curing="standard", age_h=16.0, from_mpa=30.0, to_mpa=24.5, residual=-0.02),
            PairPoint(batch="B2", curing="site", age_h=24.0, from_mpa=40.0, to_mpa=31.0, residual=0.03),
        ),
        "by_age": (
            AgeResidual(age_h=16.0, n_batches=4, mean=-0.012, standard_error=0.007),
            AgeResidual(age_h=24.0, n_batches=1, mean=0.03, standard_error=None),
        ),
        "drift_per_decade": None,
        "more_pairs": ((2, 0.03, 0.028), (5, 0.03, 0.027)),
    }  # fmt: skip
    return ConversionFigures(**(given | changed))


def programme(n: int, cost: float | None) -> Programme:
    """Three ages of n specimens each."""
    return Programme(
        n_trial_batches=1, schedule=Schedule((8.0, 16.0, 24.0), (n,) * 3), curve="exponential", weighting="relative",
        maturity=MaturitySetting("equivalent age", 5000.0, 20.0), own_batch_rms=0.03, own_batch_within_tolerance=0.9,
        next_batch=None, cost=cost, n_visits=2, is_tied=True, is_enough=True, is_within_limits=True,
    )  # fmt: skip


def option(**changed: Any) -> GeometryOption:
    """The cube: 508 for six breaks, 7 % off, of which 2 % are the conversion's."""
    given: dict[str, Any] = {
        "geometry": CUBE, "programme": programme(2, 508.0),
        "error": ErrorParts(total_rms=0.07, curve_rms=0.06, conversion_rms=0.02), "within_tolerance": 0.85,
        "n_units": 7, "n_measured": 5, "within_test_cv": 0.042, "cost": 508.0, "preparation_cost": 0.0, "n_made": 9,
        "machine_minutes": 30.0, "n_visits": 2, "n_moulds": 12, "litres": 13.2, "is_recommended": True,
    }  # fmt: skip
    return GeometryOption(**(given | changed))


def answer(**changed: Any) -> GeometryAnswer:
    """The cube is taken, the ground cylinder is dearer, the prism cannot be searched."""
    cylinder = option(
        geometry=CYLINDER, programme=programme(3, 835.0), within_tolerance=0.82, cost=835.0, preparation_cost=198.0,
        error=ErrorParts(total_rms=0.075, curve_rms=0.075, conversion_rms=0.0), machine_minutes=72.0, n_visits=3,
        n_moulds=15, litres=69.9, is_recommended=False, n_units=5, within_test_cv=0.033,
    )  # fmt: skip
    prism = GeometryOption(
        geometry="prism 100x100x400 mm", refused="the records hold no break of it", is_recommended=False
    )
    given: dict[str, Any] = {
        "target_geometry": CYLINDER, "options": (option(), cylinder, prism), "conversions": (conversion(),),
        "because": GeometryReason.CHEAPEST_ENOUGH,
    }  # fmt: skip
    return GeometryAnswer(**(given | changed))
