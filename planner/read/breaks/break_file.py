"""A table of breaks into break values in MPa and hours."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from planner.read.breaks.break_ages import read_ages
from planner.read.breaks.break_columns import AGE_COLUMNS, find_break_columns
from planner.read.breaks.break_strengths import read_strengths
from planner.read.breaks.later_columns import no_later_columns, read_later_columns
from planner.read.breaks.other_columns import check_other_columns, check_void_reasons
from planner.read.casting.break_context import DEFAULT_PROPERTY, BreakContext
from planner.read.parsing.curings import read_curing
from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import Table
from planner.read.tabular.columns import label_column
from planner.terms.arrays import BoolArray
from planner.terms.labels import listed
from planner.terms.records import Break, Curing

NOT_VOID = frozenset(("", "0", "no", "false", "-"))


@dataclass(frozen=True, slots=True, eq=False)
class BreakRows:
    """What stood in a break file."""

    breaks: tuple[Break, ...]
    voided: tuple[Break, ...]  # strength or age may be NaN where the row gives none
    has_mix_column: bool  # or the batch file has one
    has_curing_column: bool
    age_column: str  # which of the age columns the file has, "" where it states actual ages only
    has_actual_ages: bool


def read_breaks(table: Table, findings: Findings, context: BreakContext) -> BreakRows | None:
    """Read every row; None where columns are missing or any row has a fault; the findings name it."""
    names = find_break_columns(table, findings)
    if names is None:
        return None
    n_before = len(findings.problems)
    if "tested_at" in names and not context.can_date:
        del names["tested_at"]
        if not any(name in names for name in AGE_COLUMNS):
            return None

    def labels(column: str) -> list[str]:
        return label_column(table, names[column]) if column in names else [""] * table.n_rows

    check_other_columns(table, findings)
    reasons = labels("void")
    if "void" in names:
        check_void_reasons(table, names["void"], reasons, findings)
    voids = ["" if label.lower() in NOT_VOID else label for label in reasons]
    is_other = _other_property(table, names, labels("property"), findings, context)
    skip = np.array([bool(label) for label in voids], dtype=np.bool_) | is_other
    batches = labels("batch")
    geometries = [normalise_geometry(text) for text in labels("geometry")]
    ages = read_ages(table, names, batches, findings, skip, context)
    strength_mpa = read_strengths(
        table, names, geometries, findings, skip, is_compressive=context.property == DEFAULT_PROPERTY
    )
    later = (
        read_later_columns(table, names, findings, skip, context)
        if context.is_later
        else no_later_columns(table.n_rows)
    )
    curings = _curings(table, names, findings, labels("curing"), skip)
    _report_unnamed(table, names, batches, findings)
    mixes, has_mix = _mixes(table, names, batches, labels("mix"), findings, context)
    rows = [
        Break(
            batch=batches[index],
            mix=mixes[index],
            curing=curings[index],
            age_h=float(ages.nominal_h[index]),
            tested_h=float(ages.tested_h[index]),
            strength_mpa=float(strength_mpa[index]),
            geometry=geometries[index],
            placement=placement,
            specimen=specimen,
            void=voids[index],
            row=table.row_numbers[index],
            maturity=later.maturity_of(index),
            required_mpa=later.required_of(index),
            cast_us=later.cast_of(index),
        )
        for index, (placement, specimen) in enumerate(zip(labels("placement"), labels("specimen"), strict=True))
        if not is_other[index]
    ]
    if len(findings.problems) > n_before:
        return None
    return BreakRows(
        tuple(item for item in rows if not item.void),
        tuple(item for item in rows if item.void),
        has_mix,
        "curing" in names,
        next((name for name in AGE_COLUMNS if name in names), ""),
        ages.has_actual,
    )


def normalise_geometry(text: str) -> str:
    """Write a geometry in one form: ``Cylinder 100 × 200 mm`` -> ``cylinder 100x200 mm``."""
    joined = re.sub(r"(?<=\d)\s*[x×*/]\s*(?=\d)", "x", text.strip().lower())
    joined = re.sub(r"(?<=\d)(?=mm\b)", " ", joined)
    return " ".join(joined.split())


def _other_property(
    table: Table, names: dict[str, int], words: list[str], findings: Findings, context: BreakContext
) -> BoolArray:
    """Rows of another property than the one asked for; properties are never mixed."""
    if "property" not in names or not context.is_prior_known:
        return np.zeros(table.n_rows, dtype=np.bool_)
    wanted = context.property.lower().removesuffix(" strength")
    given = [word.lower().removesuffix(" strength") for word in words]
    is_other = np.array([word != wanted for word in given], dtype=np.bool_)
    found = listed(dict.fromkeys(word or "(blank)" for word in given))
    if is_other.all():
        findings.problem(
            table.file,
            f'No break has the property "{wanted}". There are: {found}. Select one with [prior] property.',
            column=table.headings[names["property"]],
        )
    elif is_other.any():
        findings.caution(
            "property-selected",
            f"{int(is_other.sum())} of {table.n_rows} rows of {table.file} are of another property than "
            f"{wanted} and are not used.",
        )
    return is_other


def _report_unnamed(table: Table, names: dict[str, int], batches: list[str], findings: Findings) -> None:
    findings.rows(
        table.file,
        table.headings[names["batch"]],
        (
            (row, "The cell is empty. Name the batch.")
            for row, batch in zip(table.row_numbers, batches, strict=True)
            if not batch
        ),
    )


def _mixes(
    table: Table,
    names: dict[str, int],
    batches: list[str],
    of_rows: list[str],
    findings: Findings,
    context: BreakContext,
) -> tuple[list[str], bool]:
    """Give the mix of every row and whether any file says it; the two files must not contradict."""
    register = context.register
    if register is None or not register.has_mix:
        return of_rows, "mix" in names
    if "mix" not in names:
        findings.rows(
            table.file,
            table.headings[names["batch"]],
            (
                (row, f'The batch "{batch}" is not in {register.file}, which gives the mixes. Add it there.')
                for row, batch in zip(table.row_numbers, batches, strict=True)
                if batch and batch not in register.mixes and not register.has_cast_at
            ),
        )
        return [register.mixes.get(batch, "") for batch in batches], True
    findings.rows(
        table.file,
        table.headings[names["mix"]],
        (
            (
                row,
                f'Batch "{batch}" is of mix "{mix}", but "{register.mixes[batch]}" in {register.file}.',
            )
            for row, batch, mix in zip(table.row_numbers, batches, of_rows, strict=True)
            if register.mixes.get(batch, mix) != mix
        ),
    )
    return of_rows, True


def _curings(
    table: Table, names: dict[str, int], findings: Findings, words: list[str], skip: BoolArray
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
            if not skip[index]:
                offenders.append((table.row_numbers[index], str(error)))
    findings.rows(table.file, table.headings[names["curing"]], offenders)
    return curings
