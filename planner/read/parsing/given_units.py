"""Figures of a message in the unit that the file gives them in: a reader of psi looks for psi."""

from __future__ import annotations

from planner.units import fahrenheit_from_celsius, psi_from_mpa


def strength_given(strength_mpa: float, column: str, *, digits: int) -> str:
    """A strength as its column gives it, or as the unit of its load would."""
    psi = float(psi_from_mpa(strength_mpa))
    if column.endswith("_ksi"):
        return f"{psi / 1000:.{digits}g} ksi"
    if column.endswith(("_psi", "_lbf")):
        return f"{psi:,.0f} psi" if psi >= 100 else f"{psi:.2g} psi"
    return f"{strength_mpa:.{digits}g} MPa"


def temperature_given(temperature_c: float, *, is_fahrenheit: bool) -> str:
    """A temperature as its column gives it."""
    return f"{fahrenheit_from_celsius(temperature_c):.4g} F" if is_fahrenheit else f"{temperature_c:.4g} C"
