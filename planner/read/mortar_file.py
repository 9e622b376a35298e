"""A table of mortar cubes cured at several temperatures, and what it makes of the plan's maturity constants."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from planner.fitting.mortar_rates import N_PARAMETERS, RateError, mortar_constants
from planner.read.breaks.break_ages import read_ages
from planner.read.breaks.break_columns import AGE_COLUMNS, BREAK_COLUMNS, STRENGTH_COLUMNS
from planner.read.breaks.break_strengths import read_strengths
from planner.read.casting.break_context import BreakContext
from planner.read.parsing.file_bytes import Shelf
from planner.read.parsing.findings import Findings
from planner.read.parsing.given_units import temperature_given
from planner.read.plan.plan_settings import LEAST_DATUM_C, LEAST_Q_K, MOST_Q_K
from planner.read.record_files import read_table
from planner.read.tabular.cell_table import Table
from planner.read.tabular.columns import number_column
from planner.read.tabular.headings import Column, Synonyms, known_headings, match_headings, missing_text, report_slips
from planner.read.temperatures.temperature_file import READING_COLUMNS
from planner.terms.arrays import FloatArray
from planner.terms.labels import age_label, listed
from planner.terms.plan.mortar import MortarBreaks, MortarConstant, MortarConstants
from planner.terms.plan.settings import MaturityGrid
from planner.units import celsius_from_fahrenheit

KEY = "maturity.mortar"
FEWEST_TEMPERATURES = 3
FEWEST_AGES = N_PARAMETERS + 1
COOLEST_C, WARMEST_C = 0.0, 80.0  # of curing in water or a cabinet; common practice, no source
MOST_FALL = 0.15  # of a mean below an earlier one, where scatter may still explain it; common practice, no source
Q_STEP_K, DATUM_STEP_C = 50.0, 0.5  # to which the mortar's own constants are rounded
MORTAR_COLUMNS: Synonyms = {
    **{name: BREAK_COLUMNS[name] for name in (*AGE_COLUMNS, *STRENGTH_COLUMNS)},
    "temperature_c": Column("constant temperature of curing [C]", ("temp_c", "curing_temperature_c")),
    "temperature_f": Column("constant temperature of curing [F]", ("temp_f", "curing_temperature_f")),
}


def read_mortar(name: str, shelf: Shelf, findings: Findings) -> MortarConstants | None:
    """Read the cubes and work out their constants; None, with reasons in the findings, where that fails."""
    breaks = _read_cubes(name, shelf, findings)
    if breaks is None:
        return None
    try:
        return mortar_constants(breaks, file=name)
    except RateError as error:
        where = error.temperature_c
        findings.problem(
            name,
            "The mortar hardens no faster when it is warmer. Were the temperatures exchanged? Then correct them."
            if where is None
            else f"At {where:g} C the strengths are too straight or too flat over the ages to tell a rate of "
            "hardening. Add earlier and later ages.",
        )
        return None


def with_mortar(grid: MaturityGrid, constants: MortarConstants) -> MaturityGrid:
    """The grid with the constants of the mortar, and without the candidates that they rule out."""
    q_k, by_q = _joined(
        grid.equivalent_age_q_k, constants.q_k, step=Q_STEP_K, is_usable=lambda q: LEAST_Q_K <= q <= MOST_Q_K
    )
    datum_c, by_datum = _joined(
        grid.datum_c, constants.datum_c, step=DATUM_STEP_C, is_usable=lambda c: LEAST_DATUM_C <= c < grid.reference_c
    )
    mortar = replace(constants, q_k=by_q, datum_c=by_datum)
    return replace(grid, equivalent_age_q_k=q_k, datum_c=datum_c, mortar=mortar)


def _joined(
    candidates: tuple[float, ...], constant: MortarConstant, *, step: float, is_usable: Callable[[float], bool]
) -> tuple[tuple[float, ...], MortarConstant]:
    """Candidates of one method with the mortar's constant, those outside its interval left out."""
    own = step * round(constant.value / step)
    if not candidates or not is_usable(own):
        return candidates, constant
    kept = {value for value in candidates if constant.least <= value <= constant.most}
    dropped = tuple(value for value in candidates if value not in kept)
    return tuple(sorted(kept | {own})), replace(constant, taken=own, dropped=dropped)


def _read_cubes(name: str, shelf: Shelf, findings: Findings) -> MortarBreaks | None:
    table = read_table(
        name,
        shelf,
        findings,
        key=KEY,
        known=known_headings(MORTAR_COLUMNS),
        has_columns=_has_columns,
        needed="an age, temperature_c and a strength",
    )
    names = None if table is None else _find_columns(table, findings)
    if table is None or names is None:
        return None
    n_before = len(findings.problems)
    all_used = np.zeros(table.n_rows, dtype=bool)
    ages = read_ages(table, names, [], findings, all_used, BreakContext())
    strength_mpa = read_strengths(table, names, [""] * table.n_rows, findings, all_used, is_compressive=True)
    temperature_c = _temperatures(table, names, findings)
    if len(findings.problems) > n_before:
        return None
    breaks = MortarBreaks(age_h=ages.nominal_h, temperature_c=temperature_c, strength_mpa=strength_mpa)
    _check_enough(name, breaks, findings)
    return breaks if len(findings.problems) == n_before else None


def _has_columns(headings: tuple[str, ...]) -> bool:
    names = match_headings("", headings, MORTAR_COLUMNS, Findings())
    return all(any(name in names for name in choices) for choices in (AGE_COLUMNS, READING_COLUMNS, STRENGTH_COLUMNS))


def _find_columns(table: Table, findings: Findings) -> dict[str, int] | None:
    n_before = len(findings.problems)
    names = match_headings(table.file, table.headings, MORTAR_COLUMNS, findings)
    kinds = ((AGE_COLUMNS, "age"), (READING_COLUMNS, "temperature"), (STRENGTH_COLUMNS, "strength"))
    lacking = [choices for choices, _ in kinds if not any(name in names for name in choices)]
    absent = [name for choices in lacking for name in choices]
    meant = report_slips(table.file, table.headings, MORTAR_COLUMNS, absent, findings)
    for choices, what in kinds:
        given = [name for name in choices if name in names]
        if len(given) > 1:
            findings.problem(table.file, f"There are {len(given)} {what} columns ({listed(given)}). Keep one of them.")
        elif not given and not any(name in meant for name in choices):
            findings.problem(table.file, missing_text(choices[0], table.headings))
    return names if len(findings.problems) == n_before else None


def _temperatures(table: Table, names: dict[str, int], findings: Findings) -> FloatArray:
    is_fahrenheit = "temperature_f" in names
    position = names["temperature_f" if is_fahrenheit else "temperature_c"]
    given = number_column(table, position, findings)
    celsius = celsius_from_fahrenheit(given) if is_fahrenheit else given
    with np.errstate(invalid="ignore"):
        wrong = (celsius < COOLEST_C) | (celsius > WARMEST_C)
    bounds = [temperature_given(bound, is_fahrenheit=is_fahrenheit) for bound in (COOLEST_C, WARMEST_C)]
    findings.rows(
        table.file,
        table.headings[position],
        (
            (
                table.row_numbers[index],
                f"Given {temperature_given(celsius[index], is_fahrenheit=is_fahrenheit)}; mortar is cured at "
                f"{bounds[0]} to {bounds[1]}. Correct the value, or the unit in the heading.",
            )
            for index in np.flatnonzero(wrong).tolist()
        ),
    )
    return celsius


def _check_enough(file: str, breaks: MortarBreaks, findings: Findings) -> None:
    """Temperatures and ages enough for the lines, and strengths that grow."""
    temperatures = np.unique(breaks.temperature_c)
    if len(temperatures) < FEWEST_TEMPERATURES:
        findings.problem(
            file,
            f"The cubes were cured at {listed(f'{t:g} C' for t in temperatures)}; a line through the rates needs at "
            f"least {FEWEST_TEMPERATURES} temperatures. Add cubes at others.",
        )
    for temperature in temperatures:
        is_here = breaks.temperature_c == temperature
        ages, where = np.unique(breaks.age_h[is_here], return_inverse=True)
        means = np.bincount(where, weights=breaks.strength_mpa[is_here]) / np.bincount(where)
        if len(ages) < FEWEST_AGES:
            findings.problem(
                file,
                f"At {temperature:g} C cubes were broken at {len(ages)} {'age' if len(ages) == 1 else 'ages'} "
                f"({listed(map(age_label, ages))}); the curve needs at least {FEWEST_AGES}. Add ages.",
            )
            continue
        falls = np.flatnonzero(means[1:] < (1.0 - MOST_FALL) * np.maximum.accumulate(means)[:-1]) + 1
        if falls.size or means[-1] <= means[0]:
            at = int(falls[0]) if falls.size else len(ages) - 1
            before = int(np.argmax(means[:at]))
            findings.problem(
                file,
                f"At {temperature:g} C the strengths do not grow: {means[before]:.4g} MPa at "
                f"{age_label(float(ages[before]))}, {means[at]:.4g} MPa at {age_label(float(ages[at]))}. Correct the "
                "ages or the strengths.",
            )
