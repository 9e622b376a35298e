"""Columns that only breaks after the plan have: maturity of a logger, strength asked of a pour, when it was cast."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.read.breaks.break_columns import REQUIRED_COLUMNS
from planner.read.casting.break_context import BreakContext
from planner.read.datetimes.clock_times import NOT_A_TIME, clock_column, report_unreal, resolve
from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import Table
from planner.read.tabular.columns import number_column, report_where
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.units import mpa_from_ksi, mpa_from_psi


@dataclass(frozen=True, slots=True, eq=False)
class LaterColumns:
    """One value a row, NaN where the cell is empty or the column is not there."""

    maturity: FloatArray  # in the unit of the plan's maturity function
    required_mpa: FloatArray
    cast_us: IntArray  # microseconds since 1970, NOT_A_TIME where there is none

    def maturity_of(self, index: int) -> float | None:
        """Maturity of one row; None: not given."""
        return _or_none(self.maturity[index])

    def required_of(self, index: int) -> float | None:
        """Strength asked of one row's pour [MPa]; None: not given."""
        return _or_none(self.required_mpa[index])

    def cast_of(self, index: int) -> int | None:
        """When the pour of one row was cast [us]; None: not given."""
        instant = int(self.cast_us[index])
        return None if instant == NOT_A_TIME else instant


def no_later_columns(n_rows: int) -> LaterColumns:
    """What records of earlier batches have: nothing of the kind."""
    return LaterColumns(np.full(n_rows, np.nan), np.full(n_rows, np.nan), np.full(n_rows, NOT_A_TIME, dtype=np.int64))


def read_later_columns(
    table: Table, names: dict[str, int], findings: Findings, skip: BoolArray, context: BreakContext
) -> LaterColumns:
    """Read the columns that are there; faults are in the findings."""
    required = next((name for name in REQUIRED_COLUMNS if name in names), None)
    asked = _positive(table, names, required, findings, skip, what="required strength")
    if required == "required_psi":
        asked = mpa_from_psi(asked)
    elif required == "required_ksi":
        asked = mpa_from_ksi(asked)
    column = "maturity" if "maturity" in names else None
    return LaterColumns(
        _positive(table, names, column, findings, skip, what="maturity"),
        asked,
        _cast(table, names, findings, skip, context),
    )


def _cast(table: Table, names: dict[str, int], findings: Findings, skip: BoolArray, context: BreakContext) -> IntArray:
    if "cast_at" not in names:
        return np.full(table.n_rows, NOT_A_TIME, dtype=np.int64)
    heading, cells = table.headings[names["cast_at"]], table.columns[names["cast_at"]]
    times = clock_column(table, cells, heading, findings, pattern=context.pattern, skip=skip, is_required=False)
    resolved = resolve(times, context.zone.name, is_in_order=False)
    report_unreal(table.file, heading, table.row_numbers, times, resolved, findings, zone=context.zone.name)
    return resolved.instant_us


def _positive(
    table: Table, names: dict[str, int], column: str | None, findings: Findings, skip: BoolArray, *, what: str
) -> FloatArray:
    if column is None:
        return np.full(table.n_rows, np.nan)
    values = number_column(table, names[column], findings, skip=skip, is_required=False)
    wrong = ~skip & ~np.isnan(values) & ~(np.nan_to_num(values, nan=1.0) > 0)
    report_where(
        table, names[column], findings, wrong, f"The {what} is {{}}. Give a number above 0, or leave it empty.", values
    )
    return values


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
