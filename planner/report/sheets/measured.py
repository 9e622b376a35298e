"""Columns of the register for what is measured beside the load: size, mass, ends, maturity; density from them.

The density of a specimen against the others of its batch is the cheapest detector of wrong concrete.
"""

from __future__ import annotations

import math

from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from planner.report.sheets.register_units import register_units
from planner.report.sheets.sheet_cells import BOX, INPUT, PERCENT, between, one_of, put_formula
from planner.terms.plan.geometry import sizes_mm


def measured_columns() -> tuple[tuple[str, float], ...]:
    """Headings with their widths."""
    units = register_units()
    return (
        (f"measured diameter or side, {units.size}", 12.0),  # Y
        (f"mass, {units.mass}", 10.0),  # Z
        (f"density, {units.density}", 10.0),  # AA
        ("density against its batch", 11.0),  # AB
        ("end preparation", 13.0),  # AC
        ("maturity at break", 10.0),  # AD
    )


SIZE, MASS, DENSITY, AGAINST, ENDS, MATURITY = "Y", "Z", "AA", "AB", "AC", "AD"
LAST = MATURITY
ENTERED = (SIZE, MASS, ENDS, MATURITY)
END_PREPARATIONS = ("ground", "capped", "pads", "as cast")  # common practice, no source


def open_measured(sheet: Worksheet, place: int, geometry: str, *, last_row: int) -> None:
    """Open the cells of one specimen, and write the formulas of its density.

    Parameters
    ----------
    geometry
        Like ``cylinder 100x200 mm``; where it cannot be read no density is worked out.
    last_row
        Of the register, for the mean of the batch.
    """
    for column in ENTERED:
        sheet[f"{column}{place}"].fill = INPUT
        sheet[f"{column}{place}"].border = BOX
    volume = _volume_formula(place, geometry)
    if volume is None:
        return
    density = f'=IF({MASS}{place}<>"",ROUND({MASS}{place}*{register_units().density_per_mass}/({volume}),0),"")'
    put_formula(sheet[f"{DENSITY}{place}"], density, "0")
    batches, densities = f"$B$2:$B${last_row}", f"${DENSITY}$2:${DENSITY}${last_row}"
    mean = f"AVERAGEIF({batches},B{place},{densities})"
    put_formula(sheet[f"{AGAINST}{place}"], f'=IF({DENSITY}{place}<>"",{DENSITY}{place}/{mean}-1,"")', PERCENT)


def area_formula(place: int, geometry: str, nominal_mm2: float | None) -> str | None:
    """Area under load as a formula, in the unit of sizes: from the measured size if entered, else the nominal one."""
    if nominal_mm2 is None:
        return None
    cell = f"{SIZE}{place}"
    measured = f"{cell}^2" if _shape(geometry) != "cylinder" else f"PI()/4*{cell}^2"
    nominal = nominal_mm2 * register_units().length(1.0) ** 2
    return f'IF({cell}<>"",{measured},{nominal:.4f})'


def validate_measured(sheet: Worksheet, places: list[int]) -> None:
    """Refuse sizes, masses and maturities that no specimen has."""
    units = register_units()
    low, high = units.sizes
    rules: tuple[tuple[str, DataValidation], ...] = (
        (SIZE, between(low, high, f"Diameter or side in {units.size}, from {low:g} to {high:g}.")),
        (MASS, between(0.02, units.most_mass, f"Mass in {units.mass}, up to {units.most_mass:,.0f}.")),
        (ENDS, one_of(END_PREPARATIONS, "One of: " + ", ".join(END_PREPARATIONS) + ".")),
        (MATURITY, between(0.01, 1_000_000, "Maturity in the unit of the plan's maturity function, above 0.")),
    )
    for column, rule in rules:
        for place in places:
            rule.add(f"{column}{place}")
        if rule.sqref:
            sheet.add_data_validation(rule)


def _shape(geometry: str) -> str:
    try:
        return sizes_mm(geometry)[0]
    except ValueError:
        return ""


def _volume_formula(place: int, geometry: str) -> str | None:
    """Volume in the unit of sizes, with the size across as measured if entered; None where the shape cannot be read."""
    try:
        shape, sizes_given = sizes_mm(geometry)
    except ValueError:
        return None
    sizes = [register_units().length(size) for size in sizes_given]
    cell = f"{SIZE}{place}"
    if shape == "cylinder":
        nominal = math.pi / 4.0 * sizes[0] ** 2 * sizes[1]
        return f'IF({cell}<>"",PI()/4*{cell}^2*{sizes[1]:g},{nominal:.1f})'
    side, height = sizes[0], sizes[-1]
    middle = sizes[1] if len(sizes) == 3 else side
    return f'IF({cell}<>"",{cell}^2*{height:g},{side * middle * height:.1f})'
