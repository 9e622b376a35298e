"""A table of mortar cubes cured at several temperatures, and what it makes of the plan's maturity constants."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from planner.fitting.mortar_rates import RateError, mortar_constants
from planner.read.breaks.break_ages import read_ages
from planner.read.breaks.break_columns import AGE_COLUMNS, BREAK_COLUMNS, STRENGTH_COLUMNS
from planner.read.breaks.break_file import NOT_VOID
from planner.read.breaks.break_strengths import read_strengths
from planner.read.breaks.other_columns import check_other_columns, check_void_reasons
from planner.read.casting.break_context import BreakContext
from planner.read.mortar_checks import check_cubes, check_one_mortar, check_pasted_rows, check_rates
from planner.read.parsing.file_bytes import Shelf
from planner.read.parsing.findings import Findings
from planner.read.parsing.given_units import temperature_given
from planner.read.plan.plan_settings import LEAST_DATUM_C, LEAST_Q_K, MOST_Q_K
from planner.read.record_files import read_table
from planner.read.tabular.cell_table import Table
from planner.read.tabular.columns import label_column, number_column
from planner.read.tabular.headings import Column, Synonyms, known_headings, match_headings, missing_text, report_slips
from planner.read.temperatures.temperature_file import READING_COLUMNS
from planner.terms.arrays import BoolArray, FloatArray
from planner.terms.labels import counted, listed
from planner.terms.plan.mortar import MortarBreaks, MortarConstant, MortarConstants
from planner.terms.plan.settings import MaturityGrid
from planner.units import celsius_from_fahrenheit

KEY = "maturity.mortar"
COOLEST_C, WARMEST_C = 0.0, 80.0  # of curing in water or a cabinet; common practice, no source
Q_STEP_K, DATUM_STEP_C = 50.0, 0.5  # to which the mortar's own constants are rounded
MORTAR_COLUMNS: Synonyms = {
    **{name: BREAK_COLUMNS[name] for name in (*AGE_COLUMNS, *STRENGTH_COLUMNS)},
    "temperature_c": Column("constant temperature of curing [C]", ("temp_c", "curing_temperature_c")),
    "temperature_f": Column("constant temperature of curing [F]", ("temp_f", "curing_temperature_f")),
    "mix": BREAK_COLUMNS["mix"],
    "void": Column("a reason; the cube is counted, not used", ("void_reason",)),
}


def read_mortar(name: str, shelf: Shelf, findings: Findings) -> MortarConstants | None:
    """Read the cubes and work out their constants; None, with reasons in the findings, where that fails."""
    breaks = _read_cubes(name, shelf, findings)
    if breaks is None:
        return None
    try:
        constants = mortar_constants(breaks, file=name)
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
    check_rates(name, constants, findings)
    return constants


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
    check_other_columns(table, findings, MORTAR_COLUMNS, what="mortar cubes")
    is_void = _voids(table, names, findings)
    ages = read_ages(table, names, [], findings, is_void, BreakContext())
    strength_mpa = read_strengths(table, names, [""] * table.n_rows, findings, is_void, is_compressive=True)
    temperature_c = _temperatures(table, names, findings, is_void)
    if len(findings.problems) > n_before:
        return None
    used = np.flatnonzero(~is_void).tolist()
    breaks = MortarBreaks(
        age_h=ages.nominal_h[used], temperature_c=temperature_c[used], strength_mpa=strength_mpa[used]
    )
    mixes = label_column(table, names["mix"]) if "mix" in names else []
    check_one_mortar(name, [mixes[row] for row in used] if mixes else [], findings)
    check_pasted_rows(name, breaks, [table.row_numbers[row] for row in used], findings)
    check_cubes(name, breaks, findings)
    return breaks if len(findings.problems) == n_before else None


def _voids(table: Table, names: dict[str, int], findings: Findings) -> BoolArray:
    """Rows that are not used; how many is said."""
    if "void" not in names:
        return np.zeros(table.n_rows, dtype=np.bool_)
    reasons = label_column(table, names["void"])
    check_void_reasons(table, names["void"], reasons, findings)
    is_void: BoolArray = np.array([bool(text) and text.lower() not in NOT_VOID for text in reasons], dtype=np.bool_)
    if is_void.any():
        rows = listed(f"row {table.row_numbers[at]}: {reasons[at]}" for at in np.flatnonzero(is_void).tolist())
        cubes = counted(int(is_void.sum()), "cube")
        findings.caution("voided-cubes", f"{table.file}: void and not used: {cubes} ({rows}).")
    return is_void


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


def _temperatures(table: Table, names: dict[str, int], findings: Findings, skip: BoolArray) -> FloatArray:
    is_fahrenheit = "temperature_f" in names
    position = names["temperature_f" if is_fahrenheit else "temperature_c"]
    given = number_column(table, position, findings, skip=skip)
    celsius = celsius_from_fahrenheit(given) if is_fahrenheit else given
    with np.errstate(invalid="ignore"):
        wrong = ((celsius < COOLEST_C) | (celsius > WARMEST_C)) & ~skip
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
