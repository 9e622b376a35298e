"""A table of batches: when each was cast, and from which moment its age counts."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from planner.read.datetimes.clock_formats import ClockPattern
from planner.read.datetimes.clock_times import NOT_A_TIME, clock_column, report_unreal, resolve
from planner.read.parsing.findings import Findings, shown
from planner.read.parsing.nearest_name import nearest
from planner.read.tabular.cell_table import Table
from planner.read.tabular.columns import label_column
from planner.read.tabular.headings import Column, Synonyms, match_headings, missing_text, report_slips
from planner.terms.labels import listed

AGE_ZEROS = ("water added", "moulded", "placed")
BATCH_COLUMNS: Synonyms = {
    "batch": Column("as in the breaks", ("batch_id", "batch_no", "batch_number")),
    "mix": Column("its recipe", ("mix_id", "mix_no", "mix_design")),
    "cast_at": Column("when it was cast, as a clock time", ("cast", "casting_time", "time_cast")),
    "age_zero": Column("when its age begins: water added, moulded or placed"),
}


@dataclass(frozen=True, slots=True)
class Zone:
    """The zone of clock times that name none."""

    name: str = "UTC"
    is_stated: bool = False  # False: nobody said, so the clock is taken never to change


@dataclass(frozen=True, slots=True)
class BatchRegister:
    """What is known of each batch."""

    file: str
    cast_us: dict[str, int] = field(default_factory=dict)  # instant of age zero, see `clock`
    mixes: dict[str, str] = field(default_factory=dict)
    has_cast_at: bool = False
    has_mix: bool = False
    age_zero: str = ""  # from which moment ages count, "" where the table does not say

    def fault_of(self, batch: str) -> str | None:
        """Say why a batch has no casting time, None where it has one."""
        if batch in self.cast_us:
            return None
        near = nearest(batch, self.mixes, cutoff=0.7)
        guess = f' Perhaps "{near}" is meant.' if near and near != batch else ""
        if batch in self.mixes:
            return f'The batch "{batch}" has no cast_at in {self.file}. Give it there.'
        return f'The batch "{batch}" is not in {self.file}. Add it there with its cast_at.{guess}'


def has_batch_columns(headings: tuple[str, ...]) -> bool:
    """Tell whether a sheet with these headings lists batches."""
    names = match_headings("", headings, BATCH_COLUMNS, Findings())
    return "batch" in names and ("cast_at" in names or "mix" in names)


def read_batches(table: Table, findings: Findings, *, zone: Zone, pattern: ClockPattern | None) -> BatchRegister | None:
    """Read every row; None where columns are missing or a cell has a fault; the findings name it."""
    n_before = len(findings.problems)
    names = match_headings(table.file, table.headings, BATCH_COLUMNS, findings)
    absent = [name for name in BATCH_COLUMNS if name not in names]
    meant = report_slips(table.file, table.headings, BATCH_COLUMNS, absent, findings)
    if "batch" not in names and "batch" not in meant:
        findings.problem(table.file, missing_text("batch", table.headings))
    if len(findings.problems) > n_before:
        return None
    batches = label_column(table, names["batch"])
    _report_labels(table, names, batches, findings)
    mixes = label_column(table, names["mix"]) if "mix" in names else [""] * table.n_rows
    age_zero = _age_zero(table, names, findings)
    cast_us: dict[str, int] = {}
    if "cast_at" in names:
        cast_us = _cast_times(table, names["cast_at"], batches, findings, zone=zone, pattern=pattern)
    if len(findings.problems) > n_before:
        return None
    return BatchRegister(
        table.file, cast_us, dict(zip(batches, mixes, strict=True)), "cast_at" in names, "mix" in names, age_zero
    )


def _report_labels(table: Table, names: dict[str, int], batches: list[str], findings: Findings) -> None:
    first: dict[str, int] = {}
    offenders: list[tuple[int, str]] = []
    for row, batch in zip(table.row_numbers, batches, strict=True):
        if not batch:
            offenders.append((row, "The cell is empty. Name the batch."))
        elif batch in first:
            offenders.append((row, f'The batch "{batch}" already stands in row {first[batch]}. Keep one row.'))
        first.setdefault(batch, row)
    findings.rows(table.file, table.headings[names["batch"]], offenders)


def _cast_times(
    table: Table,
    position: int,
    batches: list[str],
    findings: Findings,
    *,
    zone: Zone,
    pattern: ClockPattern | None,
) -> dict[str, int]:
    heading = table.headings[position]
    times = clock_column(table, table.columns[position], heading, findings, pattern=pattern, is_required=False)
    resolved = resolve(times, zone.name, is_in_order=False)
    report_unreal(table.file, heading, table.row_numbers, times, resolved, findings, zone=zone.name)
    if not zone.is_stated and not times.is_absolute.all() and np.any(times.local_us != NOT_A_TIME):
        findings.caution(
            "time-zone-assumed",
            f"The clock times in {table.file} name no time zone; the clock is taken never to have changed. "
            "Give [laboratory] time_zone where it may have.",
        )
    return {
        batch: int(instant)
        for batch, instant in zip(batches, resolved.instant_us.tolist(), strict=True)
        if instant != NOT_A_TIME
    }


def _age_zero(table: Table, names: dict[str, int], findings: Findings) -> str:
    """Ages compare only where they count from the same moment of every batch's making."""
    if "age_zero" not in names:
        if "cast_at" in names:
            findings.caution(
                "age-zero-not-stated",
                f"{table.file} does not say from which moment ages count: {', '.join(AGE_ZEROS)}. "
                "It is taken to be the same for all batches and for whoever uses the result.",
            )
        return ""
    words = [" ".join(word.lower().split()) for word in label_column(table, names["age_zero"])]
    heading = table.headings[names["age_zero"]]
    findings.rows(
        table.file,
        heading,
        (
            (row, f"Given {shown(word)}; age zero is one of: {', '.join(AGE_ZEROS)}.")
            for row, word in zip(table.row_numbers, words, strict=True)
            if word not in AGE_ZEROS
        ),
    )
    used = [zero for zero in AGE_ZEROS if zero in words]
    if len(used) > 1:
        first = {zero: table.row_numbers[words.index(zero)] for zero in used}
        findings.problem(
            table.file,
            "Ages count from different moments: "
            + listed(f"{zero} (row {row})" for zero, row in first.items())
            + ". Give cast_at of every batch at the same one.",
            column=heading,
        )
    return used[0] if len(used) == 1 else ""
