"""Columns of cells into arrays of numbers and labels, with decimal commas and thousands told apart."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np

from planner.read.parsing.findings import Findings, shown
from planner.read.tabular.cell_table import Cell, Table, is_blank, text_of
from planner.terms.arrays import BoolArray, FloatArray

CommaMeans = Literal["decimal", "thousands", "unknown"]

LARGEST = 1e12  # no quantity of a break or a reading comes near
_PLAIN = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?\Z", re.ASCII)
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}\Z", re.ASCII)  # 5,200: five thousand or five point two
_DECIMAL_COMMA = re.compile(r"[+-]?(?:\d*,\d+|\d{1,3}(?:\.\d{3})+,\d+)(?:[eE][+-]?\d{1,3})?\Z", re.ASCII)
_THOUSANDS_COMMA = re.compile(r"[+-]?\d{1,3}(?:(?:,\d{3})+\.\d+|(?:,\d{3}){2,})\Z", re.ASCII)
_SPACED = re.compile(r"(?<=\d)[\s'’](?=\d{3})")


def number_column(
    table: Table,
    position: int,
    findings: Findings,
    *,
    skip: BoolArray | None = None,
    comma_hint: CommaMeans = "unknown",
    is_required: bool = True,
) -> FloatArray:
    """Read a column of numbers.

    Parameters
    ----------
    skip
        Rows whose faults do not matter, shape ``(n_rows,)``.
    comma_hint
        What ``5,200`` means where the column itself does not tell.
    is_required
        Whether an empty cell is a fault.

    Returns
    -------
    array
        Shape ``(n_rows,)``; NaN where the cell is empty or no number, which is then in the findings.
    """
    cells = table.columns[position]
    fast = _plain_numbers(cells)
    if fast is not None:
        return fast
    means = _comma_meaning(cells, hint="decimal" if table.is_comma_decimal and comma_hint == "unknown"
                           else comma_hint)  # fmt: skip
    values = np.full(table.n_rows, np.nan)
    offenders: list[tuple[int, str]] = []
    for index, cell in enumerate(cells):
        if is_blank(cell):
            fault: str | None = "The cell is empty. Give a number." if is_required else None
        else:
            values[index], fault = _number(cell, means)
        if fault is not None and (skip is None or not skip[index]):
            offenders.append((table.row_numbers[index], fault))
    findings.rows(table.file, table.headings[position], offenders)
    return values


def report_where(
    table: Table, position: int, findings: Findings, wrong: BoolArray, wording: str, values: FloatArray
) -> None:
    """Report every row where ``wrong`` holds; ``wording`` has ``{}`` for the value given."""
    where = np.flatnonzero(wrong)
    findings.rows(
        table.file,
        table.headings[position],
        ((table.row_numbers[index], wording.format(f"{values[index]:g}")) for index in where.tolist()),
    )


def label_column(table: Table, position: int) -> list[str]:
    """Read a column of labels, trimmed."""
    cells = table.columns[position]
    if set(map(type, cells)) != {str}:
        return [text_of(cell) for cell in cells]
    known = {cell: text_of(cell) for cell in set(cells)}  # the same few labels stand in up to a million rows
    return list(map(known.__getitem__, cells))


def _plain_numbers(cells: Sequence[Cell]) -> FloatArray | None:
    """Read a column in which every cell is a plain finite number, fast; None where one is not."""
    kinds = set(map(type, cells))
    if not (kinds == {str} or kinds <= {int, float}):
        return None
    if kinds == {str}:
        joined = "".join(cells)  # type: ignore[arg-type]
        if not joined.isascii() or "_" in joined:  # float() takes both, people do not mean them
            return None
    try:
        values = np.fromiter(map(float, cells), dtype=np.float64, count=len(cells))  # type: ignore[arg-type]
    except (ValueError, OverflowError):
        return None
    return values if (np.abs(values) <= LARGEST).all() else None


def _tidy(text: str) -> str:
    return _SPACED.sub("", text.strip())


def _comma_meaning(cells: Iterable[Cell], *, hint: CommaMeans) -> CommaMeans:
    """Decide what a doubtful comma means from the undoubtful ones of the same column."""
    has_decimal = has_thousands = False
    for cell in cells:
        if isinstance(cell, str) and "," in cell:
            text = _tidy(cell)
            if _EITHER.match(text):
                continue
            has_decimal = has_decimal or _DECIMAL_COMMA.match(text) is not None
            has_thousands = has_thousands or _THOUSANDS_COMMA.match(text) is not None
    if has_decimal != has_thousands:
        return "decimal" if has_decimal else "thousands"
    return hint if not has_decimal else "unknown"


def _number(cell: Cell, means: CommaMeans) -> tuple[float, str | None]:
    """Read one cell: the number (NaN where there is none) and what is wrong with it."""
    if isinstance(cell, str):
        return _number_in_text(_tidy(cell), means)
    if isinstance(cell, bool) or not isinstance(cell, (int, float)):
        return math.nan, f"Given {shown(cell)}, which is no number."
    try:
        value = float(cell)
    except OverflowError:
        value = math.inf
    return _bounded(value, cell)


def _number_in_text(text: str, means: CommaMeans) -> tuple[float, str | None]:
    if _PLAIN.match(text):
        value = float(text)
    elif _THOUSANDS_COMMA.match(text):
        value = float(text.replace(",", ""))
    elif _EITHER.match(text):
        if means == "unknown":
            point, whole = text.replace(",", "."), text.replace(",", "")
            return math.nan, f"Given {shown(text)}, which may be {point} or {whole}. Write which it is."
        value = float(text.replace(",", "." if means == "decimal" else ""))
    elif _DECIMAL_COMMA.match(text):
        value = float(text.replace(".", "").replace(",", "."))
    elif text.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        return math.nan, f"Given {shown(text)}; it must be a finite number. Void the row or correct it."
    else:
        return math.nan, f"Given {shown(text)}, which is no number."
    return _bounded(value, text)


def _bounded(value: float, given: object) -> tuple[float, str | None]:
    if not math.isfinite(value):
        return math.nan, f"Given {shown(given)}; it must be a finite number."
    if abs(value) > LARGEST:
        return math.nan, f"Given {shown(given)}, larger than any age, strength or temperature. Correct it."
    return value, None
