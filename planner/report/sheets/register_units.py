"""Units in which the register is filled in, and what turns a load into a strength in them."""

from __future__ import annotations

from dataclasses import dataclass

from planner.report.text.shown_units import are_shown_in_us
from planner.units import inches_from_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterUnits:
    """One set of units of load, strength, size, mass and density."""

    load: str
    strength: str
    size: str
    mass: str
    density: str
    strength_column: str  # heading of the breaks as a plan reads them back
    mass_column: str
    temperature_column: str  # heading of the readings
    strength_per_load: int  # of a unit area
    strength_places: int  # decimals of a strength
    density_per_mass: int  # of a unit volume
    most_load: float
    most_strength: float
    sizes: tuple[float, float]  # least and most across
    most_mass: float

    def length(self, given_mm: float) -> float:
        """A length in the unit of sizes."""
        return given_mm if self.size == "mm" else inches_from_mm(given_mm)


SI = RegisterUnits(
    load="kN",
    strength="MPa",
    size="mm",
    mass="g",
    density="kg/m3",
    strength_column="strength_mpa",
    mass_column="mass_g",
    temperature_column="temperature_c",
    strength_per_load=1000,
    strength_places=2,
    density_per_mass=1_000_000,
    most_load=10_000.0,
    most_strength=300.0,
    sizes=(20.0, 500.0),
    most_mass=200_000.0,
)
US = RegisterUnits(
    load="lbf",
    strength="psi",
    size="in",
    mass="lb",
    density="lb/ft3",
    strength_column="strength_psi",
    mass_column="mass_lb",
    temperature_column="temperature_f",
    strength_per_load=1,
    strength_places=0,
    density_per_mass=1728,
    most_load=2_250_000.0,
    most_strength=43_500.0,
    sizes=(0.8, 20.0),
    most_mass=440.0,
)


def register_units() -> RegisterUnits:
    """Those that the reader asked for."""
    return US if are_shown_in_us() else SI
