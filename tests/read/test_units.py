"""Every factor beside a unit library that was not used to make it."""

from __future__ import annotations

import pint
import pytest

from planner import units

REGISTRY = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("ours", "source", "target"),
    [
        (units.mpa_from_psi, "psi", "MPa"),
        (units.mpa_from_ksi, "ksi", "MPa"),
        (units.kn_from_lbf, "force_pound", "kN"),
        (units.celsius_from_fahrenheit, "degF", "degC"),
        (units.fahrenheit_from_celsius, "degC", "degF"),
        (units.hours_from_days, "day", "hour"),
    ],
)
def test_conversions_agree_with_pint(ours, source: str, target: str) -> None:  # type: ignore[no-untyped-def]
    for value in (0.5, 40.0, 212.0, 8000.0):
        expected = REGISTRY.Quantity(value, source).to(target).magnitude
        assert ours(value) == pytest.approx(expected, rel=1e-12)
