"""Columns that only breaks after the plan have: maturity as a logger gave it, strength asked of a pour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.read.breaks.break_columns import REQUIRED_COLUMNS
from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import Table
from planner.read.tabular.columns import number_column, report_where
from planner.terms.arrays import BoolArray, FloatArray
from planner.units import mpa_from_ksi, mpa_from_psi


@dataclass(frozen=True, slots=True, eq=False)
class LaterColumns:
    """One value a row, NaN where the cell is empty or the column is not there."""

    maturity: FloatArray  # in the unit of the plan's maturity function
    required_mpa: FloatArray

    def maturity_of(self, index: int) -> float | None:
        """Maturity of one row; None: not given."""
        return _or_none(self.maturity[index])

    def required_of(self, index: int) -> float | None:
        """Strength asked of one row's pour [MPa]; None: not given."""
        return _or_none(self.required_mpa[index])


def no_later_columns(n_rows: int) -> LaterColumns:
    """What records of earlier batches have: nothing of the kind."""
    return LaterColumns(np.full(n_rows, np.nan), np.full(n_rows, np.nan))


def read_later_columns(table: Table, names: dict[str, int], findings: Findings, skip: BoolArray) -> LaterColumns:
    """Read both columns where they are there; faults are in the findings."""
    required = next((name for name in REQUIRED_COLUMNS if name in names), None)
    asked = _positive(table, names, required, findings, skip, what="required strength")
    if required == "required_psi":
        asked = mpa_from_psi(asked)
    elif required == "required_ksi":
        asked = mpa_from_ksi(asked)
    column = "maturity" if "maturity" in names else None
    return LaterColumns(_positive(table, names, column, findings, skip, what="maturity"), asked)


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
