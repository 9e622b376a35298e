"""Hours since age zero of temperature readings, from elapsed times or from clock times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.read.casting.reading_context import ReadingContext
from planner.read.datetimes.clock_times import US_PER_HOUR, ClockTimes, clock_column, report_unreal, resolve
from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import Cell, Table, is_blank
from planner.read.tabular.columns import number_column
from planner.terms.arrays import FloatArray, IntArray
from planner.units import hours_from_days

ELAPSED_COLUMNS = ("elapsed_h", "elapsed_d")
LATEST_FIRST_ZERO_H = 24.0  # younger targets need the true age zero


@dataclass(frozen=True, slots=True, eq=False)
class ReadingTimes:
    """Times of the rows of a temperature file: elapsed, or by the clock and not yet since age zero."""

    elapsed_h: FloatArray | None
    clock: ClockTimes | None
    heading: str  # of the column, for messages


def read_times(table: Table, names: dict[str, int], findings: Findings, context: ReadingContext) -> ReadingTimes:
    """Read the time columns; faults are in the findings."""
    for column in ELAPSED_COLUMNS:
        if column in names:
            elapsed = number_column(table, names[column], findings)
            heading = table.headings[names[column]]
            return ReadingTimes(elapsed if column == "elapsed_h" else hours_from_days(elapsed), None, heading)
    heading = table.headings[names["time"]]
    cells: Sequence[Cell] = table.columns[names["time"]]
    if "date" in names:
        cells = _joined(table.columns[names["date"]], cells)
    return ReadingTimes(None, clock_column(table, cells, heading, findings, pattern=context.pattern), heading)


def elapsed_of(
    times: ReadingTimes,
    where: IntArray,
    rows: IntArray,
    findings: Findings,
    context: ReadingContext,
    *,
    file: str,
    batch: str,
) -> FloatArray | None:
    """Give the hours since age zero of one sensor's readings.

    Parameters
    ----------
    where
        Its rows in the table, in file order.
    rows
        Row numbers of the whole table.

    Returns
    -------
    array or None
        None, with the reason in the findings, where they cannot be told.
    """
    if times.elapsed_h is not None:
        return times.elapsed_h[where]
    assert times.clock is not None
    n_before = len(findings.problems)
    part = ClockTimes(times.clock.local_us[where], times.clock.is_absolute[where])
    resolved = resolve(part, context.zone.name, is_in_order=True)
    report_unreal(file, times.heading, rows[where], part, resolved, findings, zone=context.zone.name)
    zero_us = _age_zero(file, times.heading, batch, int(resolved.instant_us[0]), findings, context)
    if zero_us is None or len(findings.problems) > n_before:
        return None
    return np.asarray((resolved.instant_us - zero_us) / US_PER_HOUR, dtype=np.float64)


def _age_zero(
    file: str, heading: str, batch: str, first_us: int, findings: Findings, context: ReadingContext
) -> int | None:
    if context.is_first_zero:
        return first_us
    if context.register is None or not context.register.has_cast_at:
        fault = "Clock times need casting times. Give [prior] batches, a table with batch and cast_at."
        if not any(item.text == fault and item.file == file for item in findings.problems):
            findings.problem(file, fault, column=heading)
        return None
    register_fault = context.register.fault_of(batch)
    if register_fault is not None:
        findings.problem(file, register_fault, column=heading)
        return None
    return context.register.cast_us[batch]


def check_first_zero(file: str, findings: Findings, context: ReadingContext) -> None:
    """Refuse to take the first reading for age zero where hours matter."""
    target_h = context.earliest_target_h
    if context.is_first_zero and target_h is not None and target_h <= LATEST_FIRST_ZERO_H:
        findings.problem(
            file,
            f"The first reading cannot stand for age zero where a target is {target_h:g} h: a logger started "
            f"an hour late would shift it by {100 / target_h:.0f} %. Give casting times in [prior] batches.",
            column="temperature_file.age_zero",
        )
    elif context.is_first_zero:
        findings.caution(
            "first-reading-is-zero",
            "The first reading of each record stands for age zero. Give casting times instead.",
        )


def _joined(dates: Sequence[Cell], times: Sequence[Cell]) -> list[Cell]:
    """Join a date column and a time column."""
    joined: list[Cell] = []
    for date, time in zip(dates, times, strict=True):
        if is_blank(date) or is_blank(time):
            joined.append(None)
            continue
        day = str(date)[:10] if not isinstance(date, str) else date.strip()
        joined.append(f"{day} {str(time).strip()}")
    return joined
