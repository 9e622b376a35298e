"""What a curve needs that is fitted to one geometry and read as another."""

from __future__ import annotations

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.terms.problems import InputError, Problem
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from planner.terms.results.geometry.geometry_options import GeometryAnswer


def conversion_part(answer: GeometryAnswer | None) -> float:
    """What the conversion has in the errors; 0 where nothing is converted."""
    conversion = None if answer is None else answer.curve_conversion
    return 0.0 if conversion is None else conversion.rms


def known_geometries(geometry: str, conversion: CurveConversion | None) -> tuple[str, ...]:
    """Geometries that breaks after casting may be of; "" where the records do not say."""
    return (geometry,) if conversion is None else (conversion.from_geometry, conversion.to_geometry)


def within_pairs(curve: IssuedCurve, file: str) -> IssuedCurve:
    """Let a curve end where the pairs of its conversion end.

    Raises
    ------
    InputError
        Where it reads nothing that they hold.
    """
    try:
        return curve.within_pairs()
    except ValueError:
        assert curve.conversion is not None
        assert curve.conversion.read_span_mpa is not None
        low, high = curve.conversion.read_span_mpa
        raise InputError(
            [
                Problem(
                    file,
                    f"The curve nowhere reads a strength of {low:.1f} to {high:.1f} MPa, which the pairs of "
                    f"{curve.conversion.from_geometry} and {curve.conversion.to_geometry} hold. Cast both together at "
                    "the strengths of this concrete, or calibrate with the geometry of the specification.",
                )
            ]
        ) from None
