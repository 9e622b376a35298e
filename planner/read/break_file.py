"""A table of breaks into break values in MPa and hours."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.terms.arrays import BoolArray, FloatArray
from planner.terms.records import Break, Curing
from planner.units import hours_from_days, mpa_from_ksi, mpa_from_psi

from .break_columns import AGE_COLUMNS, STRENGTH_COLUMNS, find_break_columns
from .columns import CommaMeans, label_column, number_column
from .curings import read_curing
from .findings import Findings
from .quantities import parse_duration
from .tables import Table, is_blank

NOT_VOID = frozenset(("", "0", "no", "false", "-"))
STRONGEST_MPA = (
    400.0  # above the strongest concretes made; beyond it the unit is wrong (common practice, no source)
)
WEAKEST_TOP_MPA = (
    2.0  # a study whose strongest break is weaker has its unit wrong (common practice, no source)
)


@dataclass(frozen=True, slots=True, eq=False)
class BreakRows:
    """What stood in a break file."""

    breaks: tuple[Break, ...]
    voided: tuple[Break, ...]  # strength or age may be NaN where the row gives none
    has_mix_column: bool
    has_curing_column: bool
    age_column: str  # which of the age columns the file has


def read_breaks(table: Table, findings: Findings) -> BreakRows | None:
    """Read every row; None where columns are missing or any row has a fault, which the findings then name."""
    names = find_break_columns(table, findings)
    if names is None:
        return None
    n_before = len(findings.problems)

    def labels(column: str) -> list[str]:
        return label_column(table, names[column]) if column in names else [""] * table.n_rows

    voids = ["" if label.lower() in NOT_VOID else label for label in labels("void")]
    is_void = np.array([bool(label) for label in voids], dtype=np.bool_)
    age_h = _ages(table, names, findings, is_void)
    strength_mpa = _strengths(table, names, findings, is_void)
    curings = _curings(table, names, findings, labels("curing"), is_void)
    batches = labels("batch")
    findings.rows(
        table.file,
        table.headings[names["batch"]],
        ((row, "The cell is empty. Name the batch.") for row, batch in _pairs(table, batches) if not batch),
    )
    rows = [
        Break(
            batch=batches[index],
            mix=mix,
            curing=curings[index],
            age_h=float(age_h[index]),
            tested_h=float(age_h[index]),
            strength_mpa=float(strength_mpa[index]),
            geometry=normalise_geometry(geometry),
            placement=placement,
            specimen=specimen,
            void=voids[index],
            row=table.row_numbers[index],
        )
        for index, (mix, geometry, placement, specimen) in enumerate(
            zip(labels("mix"), labels("geometry"), labels("placement"), labels("specimen"), strict=True)
        )
    ]
    if len(findings.problems) > n_before:
        return None
    return BreakRows(
        tuple(item for item in rows if not item.void),
        tuple(item for item in rows if item.void),
        "mix" in names,
        "curing" in names,
        next(name for name in AGE_COLUMNS if name in names),
    )


def normalise_geometry(text: str) -> str:
    """Write a geometry in one form: ``Cylinder 100 × 200 mm`` -> ``cylinder 100x200 mm``."""
    joined = re.sub(r"(?<=\d)\s*[x×*/]\s*(?=\d)", "x", text.strip().lower())
    joined = re.sub(r"(?<=\d)(?=mm\b)", " ", joined)
    return " ".join(joined.split())


def _pairs(table: Table, labels: Sequence[str]) -> zip[tuple[int, str]]:
    return zip(table.row_numbers, labels, strict=True)


def _ages(table: Table, names: dict[str, int], findings: Findings, is_void: BoolArray) -> FloatArray:
    column = next(name for name in AGE_COLUMNS if name in names)
    position = names[column]
    if column == "age":
        values = _written_ages(table, position, findings, is_void)
    else:
        values = number_column(table, position, findings, skip=is_void)
    report_not_positive(table, position, findings, values, is_void, "age")
    return hours_from_days(values) if column == "age_d" else values


def _written_ages(table: Table, position: int, findings: Findings, is_void: BoolArray) -> FloatArray:
    values = np.full(table.n_rows, np.nan)
    offenders: list[tuple[int, str]] = []
    for index, cell in enumerate(table.columns[position]):
        try:
            if is_blank(cell):
                raise ValueError('The cell is empty. Write an age like "12 h" or "3 d".')
            values[index] = parse_duration(cell)
        except ValueError as error:
            if not is_void[index]:
                offenders.append((table.row_numbers[index], str(error)))
    findings.rows(table.file, table.headings[position], offenders)
    return values


def _strengths(table: Table, names: dict[str, int], findings: Findings, is_void: BoolArray) -> FloatArray:
    column = next((name for name in STRENGTH_COLUMNS if name in names), None)
    if column is None:
        findings.problem(
            table.file,
            "Loads are not read yet. Give a strength column: strength_mpa, strength_psi or strength_ksi.",
        )
        return np.full(table.n_rows, np.nan)
    position = names[column]
    hint: CommaMeans = "thousands" if column == "strength_psi" else "unknown"
    given = number_column(table, position, findings, skip=is_void, comma_hint=hint)
    report_not_positive(table, position, findings, given, is_void, "strength")
    if column == "strength_psi":
        values = mpa_from_psi(given)
    elif column == "strength_ksi":
        values = mpa_from_ksi(given)
    else:
        values = given
    _report_wrong_unit(table, position, findings, given, values, is_void)
    return values


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


def _report_wrong_unit(
    table: Table,
    position: int,
    findings: Findings,
    given: FloatArray,
    strength_mpa: FloatArray,
    is_void: BoolArray,
) -> None:
    """Report strengths that no concrete has, and studies too weak to be in the stated unit."""
    with np.errstate(invalid="ignore"):
        wrong = (strength_mpa > STRONGEST_MPA) & ~is_void
    heading = table.headings[position]
    findings.rows(
        table.file,
        heading,
        (
            (
                table.row_numbers[index],
                f"Given {given[index]:g}, which is {strength_mpa[index]:.0f} MPa, stronger than any "
                "concrete. Correct the unit in the heading or the value.",
            )
            for index in np.flatnonzero(wrong).tolist()
        ),
    )
    used = strength_mpa[~is_void & np.isfinite(strength_mpa)]
    top = float(used.max()) if used.size else math.nan
    if 0 < top < WEAKEST_TOP_MPA:
        findings.problem(
            table.file,
            f"The strongest break is {top:.2g} MPa, too weak for hardened concrete. "
            "Correct the unit in the heading.",
            column=heading,
        )


def _curings(
    table: Table, names: dict[str, int], findings: Findings, words: list[str], is_void: BoolArray
) -> list[Curing]:
    if "curing" not in names:
        return ["standard"] * table.n_rows
    curings: list[Curing] = []
    offenders: list[tuple[int, str]] = []
    for index, word in enumerate(words):
        try:
            curings.append(read_curing(word))
        except ValueError as error:
            curings.append("standard")
            if not is_void[index]:
                offenders.append((table.row_numbers[index], str(error)))
    findings.rows(table.file, table.headings[names["curing"]], offenders)
    return curings
