"""The age of every break: nominal, as stated, and actual, as the clock says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.read.breaks.break_columns import AGE_COLUMNS
from planner.read.casting.break_context import BreakContext
from planner.read.datetimes.clock_times import NOT_A_TIME, US_PER_HOUR, clock_column, report_unreal, resolve
from planner.read.parsing.findings import Findings
from planner.read.parsing.quantities import parse_duration
from planner.read.tabular.cell_table import Table, is_blank
from planner.read.tabular.columns import number_column
from planner.terms.arrays import BoolArray, FloatArray
from planner.units import hours_from_days

FARTHEST = 1.5  # a break this many times older or younger than its nominal age has a wrong date or time


@dataclass(frozen=True, slots=True, eq=False)
class Ages:
    """Ages of the rows of a break file [h], NaN where a row that is not used gives none."""

    nominal_h: FloatArray  # equal to tested_h where the file states actual ages only
    tested_h: FloatArray
    has_actual: bool  # the file states actual ages


def read_ages(
    table: Table,
    names: dict[str, int],
    batches: list[str],
    findings: Findings,
    skip: BoolArray,
    context: BreakContext,
) -> Ages:
    """Read the age columns; faults are in the findings."""
    column = next((name for name in AGE_COLUMNS if name in names), None)
    nominal_h = None if column is None else _ages_of_table(table, names, column, findings, skip)
    tested_h: FloatArray | None = None
    if "tested_at" in names:
        tested_h = _by_clock(table, names["tested_at"], batches, findings, skip, context)
    elif "tested_h" in names:
        tested_h = number_column(table, names["tested_h"], findings, skip=skip)
        report_not_positive(table, names["tested_h"], findings, tested_h, skip, "age")
    if nominal_h is not None and tested_h is not None:
        heading = table.headings[names["tested_at"] if "tested_at" in names else names["tested_h"]]
        _report_far(table, heading, nominal_h, tested_h, findings, skip)
    either = tested_h if nominal_h is None else nominal_h
    if either is None:  # the column check has already refused such a table
        either = np.full(table.n_rows, np.nan)
    return Ages(either, either if tested_h is None else tested_h, tested_h is not None)


def report_not_positive(
    table: Table, position: int, findings: Findings, values: FloatArray, skip: BoolArray, what: str
) -> None:
    """Report zero and negative values."""
    with np.errstate(invalid="ignore"):
        wrong = (values <= 0) & ~skip
    findings.rows(
        table.file,
        table.headings[position],
        (
            (table.row_numbers[index], f"The {what} is {values[index]:g}, but it must be above 0.")
            for index in np.flatnonzero(wrong).tolist()
        ),
    )


def _ages_of_table(table: Table, names: dict[str, int], column: str, findings: Findings, skip: BoolArray) -> FloatArray:
    position = names[column]
    if column == "age":
        values = _written(table, position, findings, skip)
    else:
        values = number_column(table, position, findings, skip=skip)
    report_not_positive(table, position, findings, values, skip, "age")
    return hours_from_days(values) if column == "age_d" else values


def _written(table: Table, position: int, findings: Findings, skip: BoolArray) -> FloatArray:
    values = np.full(table.n_rows, np.nan)
    offenders: list[tuple[int, str]] = []
    for index, cell in enumerate(table.columns[position]):
        try:
            if is_blank(cell):
                raise ValueError('The cell is empty. Write an age like "12 h" or "3 d".')
            values[index] = parse_duration(cell)
        except ValueError as error:
            if not skip[index]:
                offenders.append((table.row_numbers[index], str(error)))
    findings.rows(table.file, table.headings[position], offenders)
    return values


def _by_clock(
    table: Table,
    position: int,
    batches: list[str],
    findings: Findings,
    skip: BoolArray,
    context: BreakContext,
) -> FloatArray:
    heading = table.headings[position]
    tested_h = np.full(table.n_rows, np.nan)
    register = context.register
    if register is None or not register.has_cast_at:
        findings.problem(
            table.file,
            "Clock times need casting times. Give [prior] batches, a table with batch and cast_at.",
            column=heading,
        )
        return tested_h
    times = clock_column(table, table.columns[position], heading, findings, pattern=context.pattern, skip=skip)
    resolved = resolve(times, context.zone.name, is_in_order=False)
    report_unreal(table.file, heading, table.row_numbers, times, resolved, findings, zone=context.zone.name, skip=skip)
    offenders: list[tuple[int, str]] = []
    for index, instant in enumerate(resolved.instant_us.tolist()):
        fault = register.fault_of(batches[index]) if batches[index] else None
        if fault is None and batches[index] and instant != NOT_A_TIME:
            age_us = instant - register.cast_us[batches[index]]
            tested_h[index] = age_us / US_PER_HOUR
            if age_us <= 0:
                fault = (
                    f'The break is {-tested_h[index]:.4g} h before batch "{batches[index]}" was cast. '
                    "Correct one of the two times."
                )
        if fault is not None and not skip[index]:
            offenders.append((table.row_numbers[index], fault))
    findings.rows(table.file, heading, offenders)
    return tested_h


def _report_far(
    table: Table,
    heading: str,
    nominal_h: FloatArray,
    tested_h: FloatArray,
    findings: Findings,
    skip: BoolArray,
) -> None:
    with np.errstate(all="ignore"):
        ratio = tested_h / nominal_h
        wrong = (tested_h > 0) & ((ratio > FARTHEST) | (ratio < 1.0 / FARTHEST)) & ~skip
    findings.rows(
        table.file,
        heading,
        (
            (
                table.row_numbers[index],
                f"The break was at {tested_h[index]:.4g} h but its nominal age is {nominal_h[index]:.4g} h. "
                "Correct the date, the time or the age.",
            )
            for index in np.flatnonzero(wrong).tolist()
        ),
    )
