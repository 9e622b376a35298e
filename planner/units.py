"""Conversion into and out of the canonical units: MPa, degrees C, hours, kN, mm.

Every factor is exact by definition (international pound 0.45359237 kg, standard gravity 9.80665 m/s2,
inch 25.4 mm), so no unit library has to load; the tests compare each with pint.
Only the reading and reporting doors and the command line import this module.
"""

from __future__ import annotations

from typing import TypeVar

from planner.terms.arrays import FloatArray

Quantity = TypeVar("Quantity", float, FloatArray)

KG_PER_LB = 0.45359237
MM_PER_INCH = 25.4
NEWTONS_PER_LBF = KG_PER_LB * 9.80665
MPA_PER_PSI = NEWTONS_PER_LBF / MM_PER_INCH**2
MPA_PER_KSI = 1000.0 * MPA_PER_PSI
HOURS_PER_DAY = 24.0
MINUTES_PER_HOUR = 60.0
SECONDS_PER_HOUR = 3600.0


def mpa_from_psi(strength_psi: Quantity) -> Quantity:
    """Convert pounds-force per square inch to MPa."""
    return strength_psi * MPA_PER_PSI


def mpa_from_ksi(strength_ksi: Quantity) -> Quantity:
    """Convert thousands of pounds-force per square inch to MPa."""
    return strength_ksi * MPA_PER_KSI


def kn_from_lbf(load_lbf: Quantity) -> Quantity:
    """Convert pounds-force to kN."""
    return load_lbf * (NEWTONS_PER_LBF / 1000.0)


def celsius_from_fahrenheit(temperature_f: Quantity) -> Quantity:
    """Convert degrees Fahrenheit to degrees Celsius."""
    return (temperature_f - 32.0) / 1.8


def fahrenheit_from_celsius(temperature_c: Quantity) -> Quantity:
    """Convert degrees Celsius to degrees Fahrenheit."""
    return temperature_c * 1.8 + 32.0


def hours_from_days(age_d: Quantity) -> Quantity:
    """Convert days to hours."""
    return age_d * HOURS_PER_DAY


def psi_from_mpa(strength_mpa: Quantity) -> Quantity:
    """Convert MPa to pounds-force per square inch."""
    return strength_mpa / MPA_PER_PSI


def lbf_from_kn(load_kn: Quantity) -> Quantity:
    """Convert kN to pounds-force."""
    return load_kn / (NEWTONS_PER_LBF / 1000.0)


def inches_from_mm(length_mm: Quantity) -> Quantity:
    """Convert mm to inches."""
    return length_mm / MM_PER_INCH


def cubic_feet_from_litres(volume_l: Quantity) -> Quantity:
    """Convert litres to cubic feet."""
    return volume_l * 1e6 / (12.0 * MM_PER_INCH) ** 3


def pcf_from_kg_per_m3(density_kg_per_m3: Quantity) -> Quantity:
    """Convert kg/m3 to pounds per cubic foot."""
    return density_kg_per_m3 / KG_PER_LB * (12.0 * MM_PER_INCH / 1000.0) ** 3
