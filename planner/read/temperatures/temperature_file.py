"""A table of temperature readings into curing records: hours since age zero and degrees C."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.read.casting.reading_context import ReadingContext
from planner.read.parsing.curings import read_curing
from planner.read.parsing.findings import Findings
from planner.read.tabular.cell_table import Table
from planner.read.tabular.columns import label_column, number_column
from planner.read.tabular.headings import Column, Synonyms, match_headings, missing_text, report_slips
from planner.read.temperatures.reading_times import ELAPSED_COLUMNS, check_first_zero, elapsed_of, read_times
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.labels import listed
from planner.terms.records import Curing
from planner.units import celsius_from_fahrenheit

READING_COLUMNS = ("temperature_c", "temperature_f")
TEMPERATURE_COLUMNS: Synonyms = {
    "batch": Column("concrete that the sensor lies in", ("batch_id", "batch_no", "batch_number")),
    "curing": Column("as in the breaks", ("curing_type", "curing_condition")),
    "elapsed_h": Column("hours since the age began", ("elapsed_hours", "elapsed_hr", "elapsed_hrs", "elapsed_time_h")),
    "elapsed_d": Column("days since the age began", ("elapsed_days",)),
    "time": Column(
        "clock time of the reading; needs the casting time", ("date_time", "datetime", "timestamp", "date_and_time")
    ),
    "date": Column("its date, where time holds the hour alone"),
    "temperature_c": Column(
        "temperature inside the concrete [C]", ("temp_c", "temperature_in_c", "concrete_temperature_c")
    ),
    "temperature_f": Column(
        "temperature inside the concrete [F]", ("temp_f", "temperature_in_f", "concrete_temperature_f")
    ),
    "sensor": Column("which sensor, where several lie in one batch", ("sensor_id", "channel", "thermocouple")),
    "placement": Column("name of the place, as in the breaks"),
}


@dataclass(frozen=True, slots=True, eq=False)
class SensorReadings:
    """What one sensor read, in file order."""

    batch: str
    curing: Curing
    placement: str
    sensor: str
    elapsed_h: FloatArray  # since age zero [h], as it stands in the file
    temperature_c: FloatArray  # [C]
    rows: IntArray  # row numbers
    is_fahrenheit: bool = False  # as the file gives its temperatures


def has_temperature_columns(headings: tuple[str, ...]) -> bool:
    """Tell whether a sheet with these headings holds temperature records."""
    names = match_headings("", headings, TEMPERATURE_COLUMNS, Findings())
    return (
        "batch" in names
        and any(name in names for name in (*ELAPSED_COLUMNS, "time"))
        and any(name in names for name in READING_COLUMNS)
    )


def read_temperatures(table: Table, findings: Findings, context: ReadingContext) -> tuple[SensorReadings, ...] | None:
    """Read every row; None where columns are missing or a cell has a fault; the findings name it."""
    names = _find_columns(table, findings)
    if names is None:
        return None
    n_before = len(findings.problems)
    check_first_zero(table.file, findings, context)
    times = read_times(table, names, findings, context)
    position = names["temperature_c"] if "temperature_c" in names else names["temperature_f"]
    temperature = number_column(table, position, findings)
    is_fahrenheit = "temperature_f" in names
    if is_fahrenheit:
        temperature = celsius_from_fahrenheit(temperature)
    sensors = _sensors(table, names, findings)
    if len(findings.problems) > n_before:
        return None
    rows = np.asarray(table.row_numbers, dtype=np.int64)
    readings: list[SensorReadings] = []
    for (batch, curing, placement, sensor), where in sensors.items():
        elapsed_h = elapsed_of(times, where, rows, findings, context, file=table.file, batch=batch)
        if elapsed_h is not None:
            readings.append(
                SensorReadings(
                    batch,
                    curing,
                    placement,
                    sensor,
                    elapsed_h,
                    temperature[where],
                    rows[where],
                    "temperature_f" in names,
                )
            )
    return tuple(readings) if len(findings.problems) == n_before else None


def _find_columns(table: Table, findings: Findings) -> dict[str, int] | None:
    n_before = len(findings.problems)
    names = match_headings(table.file, table.headings, TEMPERATURE_COLUMNS, findings)
    has_time = any(name in names for name in (*ELAPSED_COLUMNS, "time"))
    has_reading = any(name in names for name in READING_COLUMNS)
    absent = [name for name in ("batch", "curing", "sensor", "placement") if name not in names]
    absent += [] if has_time else [*ELAPSED_COLUMNS, "time"]
    absent += [] if has_reading else READING_COLUMNS
    meant = report_slips(table.file, table.headings, TEMPERATURE_COLUMNS, absent, findings)
    for name in ("batch", "curing"):
        if name not in names and name not in meant:
            findings.problem(table.file, missing_text(name, table.headings))
    for choices, what, instead in (
        (ELAPSED_COLUMNS, "time", ("time",)),
        (READING_COLUMNS, "temperature", ()),
    ):
        given = [name for name in choices if name in names]
        if len(given) > 1:
            findings.problem(table.file, f"There are two {what} columns ({listed(given)}). Keep one of them.")
        elif not given and not any(name in names or name in meant for name in (*choices, *instead)):
            findings.problem(table.file, missing_text(choices[0], table.headings))
    return names if len(findings.problems) == n_before else None


def _sensors(table: Table, names: dict[str, int], findings: Findings) -> dict[tuple[str, Curing, str, str], IntArray]:
    """Give the rows of each sensor, in file order; sensors in order of first appearance."""
    blank: Sequence[str] = [""] * table.n_rows
    columns = [
        label_column(table, names[name]) if name in names else blank
        for name in ("batch", "curing", "placement", "sensor")
    ]
    keys = list(zip(*columns, strict=True))
    places = {key: place for place, key in enumerate(dict.fromkeys(keys))}
    codes = np.fromiter(map(places.__getitem__, keys), dtype=np.int64, count=table.n_rows)
    order = np.argsort(codes, kind="stable")
    ends = np.cumsum(np.bincount(codes, minlength=len(places)))
    parts: dict[tuple[str, Curing, str, str], list[IntArray]] = {}
    for (batch, word, placement, sensor), part in zip(places, np.split(order, ends[:-1]), strict=True):
        curing: Curing = "standard"
        first_row = table.row_numbers[int(part[0])]
        try:
            curing = read_curing(word)
        except ValueError as error:
            findings.problem(table.file, str(error), row=first_row, column=table.headings[names["curing"]])
        if not batch:
            heading = table.headings[names["batch"]]
            findings.problem(table.file, "The cell is empty. Name the batch.", row=first_row, column=heading)
        parts.setdefault((batch, curing, placement, sensor), []).append(part)  # "lab" is "standard"
    return {key: np.sort(np.concatenate(rows)) for key, rows in parts.items()}
