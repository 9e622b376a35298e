"""The strength of every break in MPa: as stated, or from its load and size."""

from __future__ import annotations

import math
import re

import numpy as np

from planner.read.breaks.break_ages import report_not_positive
from planner.read.breaks.break_columns import LOAD_COLUMNS, STRENGTH_COLUMNS
from planner.read.parsing.findings import Findings
from planner.read.parsing.given_units import strength_given
from planner.read.tabular.cell_table import Table
from planner.read.tabular.columns import CommaMeans, number_column
from planner.terms.arrays import BoolArray, FloatArray
from planner.terms.labels import listed
from planner.units import kn_from_lbf, mpa_from_ksi, mpa_from_psi

STRONGEST_MPA = 400.0  # above the strongest concretes made (common practice, no source)
WEAKEST_TOP_MPA = 2.0  # a study whose strongest break is weaker has its unit wrong (common practice, no source)
AGREES_WITHIN = 0.02  # stated strength beside the one from load and size; sizes are rounded to the mm
LEAST_SLENDERNESS = 1.8  # height over diameter; below it strengths need a factor, ASTM C39
_CYLINDER = re.compile(r"(\d+(?:\.\d+)?)x(\d+(?:\.\d+)?) mm")
_CUBE = re.compile(r"cube (\d+(?:\.\d+)?) mm")


def read_strengths(
    table: Table,
    names: dict[str, int],
    geometries: list[str],
    findings: Findings,
    skip: BoolArray,
    *,
    is_compressive: bool,
) -> FloatArray:
    """Read strengths [MPa]; NaN where a row that is not used gives none. Faults are in the findings."""
    stated = next((name for name in STRENGTH_COLUMNS if name in names), None)
    has_load = any(name in names for name in LOAD_COLUMNS)
    values = np.full(table.n_rows, np.nan)
    if stated is not None:
        values = _strengths_of_table(table, names[stated], stated, findings, skip, is_required=not has_load)
    if has_load:
        values = _with_loads(table, names, geometries, values, findings, skip, is_stated=stated is not None)
    column = stated if stated is not None else next(name for name in LOAD_COLUMNS if name in names)
    _report_wrong_unit(table, names[column], findings, values, skip, column=column, is_compressive=is_compressive)
    return values


def _strengths_of_table(
    table: Table, position: int, column: str, findings: Findings, skip: BoolArray, *, is_required: bool
) -> FloatArray:
    hint: CommaMeans = "thousands" if column == "strength_psi" else "unknown"
    given = number_column(table, position, findings, skip=skip, comma_hint=hint, is_required=is_required)
    report_not_positive(table, position, findings, given, skip, "strength")
    if column == "strength_psi":
        return mpa_from_psi(given)
    return mpa_from_ksi(given) if column == "strength_ksi" else given


def _with_loads(
    table: Table,
    names: dict[str, int],
    geometries: list[str],
    stated_mpa: FloatArray,
    findings: Findings,
    skip: BoolArray,
    *,
    is_stated: bool,
) -> FloatArray:
    """Compute strengths from loads; where both stand, keep the stated one if they agree."""
    column = next(name for name in LOAD_COLUMNS if name in names)
    position = names[column]
    hint: CommaMeans = "thousands" if column == "load_lbf" else "unknown"
    load = number_column(table, position, findings, skip=skip, comma_hint=hint, is_required=not is_stated)
    report_not_positive(table, position, findings, load, skip, "load")
    load_kn = kn_from_lbf(load) if column == "load_lbf" else load
    with np.errstate(all="ignore"):  # sizes next to nothing; their strengths are refused below
        area_mm2, slenderness = _areas(table, names, geometries, findings, skip | np.isnan(load))
        computed_mpa = 1000.0 * load_kn / area_mm2
    unit = next((name for name in STRENGTH_COLUMNS if name in names), column)
    _report_disagreement(table, position, stated_mpa, computed_mpa, findings, skip, unit=unit)
    _note_short(table, slenderness, findings, skip)
    missing = np.isnan(stated_mpa) & np.isnan(load) & ~skip
    if is_stated and missing.any():
        findings.rows(
            table.file,
            table.headings[position],
            (
                (
                    table.row_numbers[index],
                    "The row has neither strength nor load. Give one, or void the row.",
                )
                for index in np.flatnonzero(missing).tolist()
            ),
        )
    return np.where(np.isnan(stated_mpa), computed_mpa, stated_mpa)


def _areas(
    table: Table, names: dict[str, int], geometries: list[str], findings: Findings, skip: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Loaded area [mm2] and height over diameter (NaN where not a cylinder of known height) of every row."""
    size = {}
    for name in ("diameter_mm", "side_mm", "height_mm"):
        size[name] = np.full(table.n_rows, np.nan)
        if name in names:
            size[name] = number_column(table, names[name], findings, skip=skip, is_required=False)
            report_not_positive(table, names[name], findings, size[name], skip, name.removesuffix("_mm"))
    diameter, side, height = (size[name].copy() for name in ("diameter_mm", "side_mm", "height_mm"))
    offenders: list[tuple[int, str]] = []
    for index in np.flatnonzero(~skip).tolist():
        has_round, has_square = not math.isnan(diameter[index]), not math.isnan(side[index])
        if has_round and has_square:
            offenders.append((table.row_numbers[index], "The row has a diameter and a side. Keep the one it has."))
        elif not has_round and not has_square:
            cylinder, cube = _CYLINDER.search(geometries[index]), _CUBE.search(geometries[index])
            if cylinder:
                diameter[index], height[index] = float(cylinder[1]), float(cylinder[2])
            elif cube:
                side[index] = float(cube[1])
            else:
                offenders.append(
                    (
                        table.row_numbers[index],
                        "A load needs a size. Give diameter_mm, side_mm or a geometry.",
                    )
                )
    findings.rows(table.file, None, offenders)
    for values in (diameter, side, height):
        values[~(values > 0)] = np.nan
    area = np.where(np.isnan(side), math.pi / 4.0 * diameter**2, side**2)
    return area, height / diameter


def _report_disagreement(
    table: Table,
    position: int,
    stated_mpa: FloatArray,
    computed_mpa: FloatArray,
    findings: Findings,
    skip: BoolArray,
    *,
    unit: str,
) -> None:
    with np.errstate(all="ignore"):
        wrong = (np.abs(computed_mpa / stated_mpa - 1.0) > AGREES_WITHIN) & ~skip
    findings.rows(
        table.file,
        table.headings[position],
        (
            (
                table.row_numbers[index],
                f"Load and size give {strength_given(computed_mpa[index], unit, digits=4)} but the row has "
                f"{strength_given(stated_mpa[index], unit, digits=4)}. Correct one of them, or remove the load where a "
                "length/diameter correction was applied.",
            )
            for index in np.flatnonzero(wrong).tolist()
        ),
    )


def _note_short(table: Table, slenderness: FloatArray, findings: Findings, skip: BoolArray) -> None:
    with np.errstate(invalid="ignore"):
        short = np.flatnonzero((slenderness < LEAST_SLENDERNESS) & ~skip)
    if short.size:
        rows = listed(table.row_numbers[index] for index in short.tolist())
        findings.caution(
            "short-cylinder",
            f"{short.size} cylinders are below {LEAST_SLENDERNESS:g} times as high as wide (rows {rows}): "
            "they read strong, and no length/diameter correction is applied. Void them or give corrected strengths.",
        )


def _report_wrong_unit(
    table: Table,
    position: int,
    findings: Findings,
    strength_mpa: FloatArray,
    skip: BoolArray,
    *,
    column: str,
    is_compressive: bool,
) -> None:
    """Report strengths that no concrete has, and studies too weak to be in the stated unit."""
    with np.errstate(invalid="ignore"):
        wrong = (strength_mpa > STRONGEST_MPA) & ~skip
    heading = table.headings[position]
    findings.rows(
        table.file,
        heading,
        (
            (
                table.row_numbers[index],
                f"The strength is {strength_given(strength_mpa[index], column, digits=4)}, stronger than any concrete. "
                "Correct the unit in the heading or the value.",
            )
            for index in np.flatnonzero(wrong).tolist()
        ),
    )
    used = strength_mpa[~skip & np.isfinite(strength_mpa)]
    top = float(used.max()) if used.size else math.nan
    if is_compressive and 0 < top < WEAKEST_TOP_MPA:
        findings.problem(
            table.file,
            f"The strongest break is {strength_given(top, column, digits=2)}, too weak for hardened concrete. "
            "Correct the unit in the heading.",
            column=heading,
        )
