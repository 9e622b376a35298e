"""Exports of loggers: one time column, one column a sensor, and a plan that says which is where."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from planner.read.casting.reading_context import Place, ReadingContext
from planner.read.parsing.findings import Findings
from planner.read.parsing.nearest_name import nearest
from planner.read.tabular.cell_table import Cell, Table
from planner.read.tabular.columns import number_column
from planner.read.tabular.headings import Synonyms, match_headings, missing_text, normalise_heading
from planner.read.temperatures.reading_times import ELAPSED_COLUMNS, check_first_zero, elapsed_of, read_times
from planner.read.temperatures.temperature_file import TEMPERATURE_COLUMNS, SensorReadings
from planner.terms.arrays import FloatArray
from planner.terms.labels import listed
from planner.units import celsius_from_fahrenheit

LOGGER_COLUMNS: Synonyms = {name: TEMPERATURE_COLUMNS[name] for name in ("elapsed_h", "elapsed_d", "time", "date")}
NO_READING = frozenset(("-", "--", "---", "----", "n/a", "na", "ol", "open"))  # what loggers write instead


def known_to_logger(sensors: Mapping[str, Place]) -> frozenset[str]:
    """List the normalised headings that an export must have."""
    words = {word for name, column in LOGGER_COLUMNS.items() for word in (name, *column.also)}
    return frozenset(words | {normalise_heading(heading) for heading in sensors})


def has_logger_columns(headings: tuple[str, ...], sensors: Mapping[str, Place]) -> bool:
    """Tell whether a sheet with these headings is the export."""
    given = {normalise_heading(heading) for heading in headings}
    return any(normalise_heading(heading) in given for heading in sensors)


def read_logger(table: Table, findings: Findings, context: ReadingContext) -> tuple[SensorReadings, ...] | None:
    """Read the sensor columns that the plan names; None where a fault stands in the findings."""
    n_before = len(findings.problems)
    names = match_headings(table.file, table.headings, LOGGER_COLUMNS, findings)
    if not any(name in names for name in (*ELAPSED_COLUMNS, "time")):
        findings.problem(table.file, missing_text("time", table.headings))
    positions = _sensor_positions(table, context.sensors, findings)
    check_first_zero(table.file, findings, context)
    if len(findings.problems) > n_before:
        return None
    times = read_times(table, names, findings, context)
    temperatures = {
        heading: _temperatures(table, position, findings, context) for heading, position in positions.items()
    }
    if len(findings.problems) > n_before:
        return None
    rows = np.asarray(table.row_numbers, dtype=np.int64)
    readings: list[SensorReadings] = []
    for heading, temperature in temperatures.items():
        place = context.sensors[heading]
        where = np.flatnonzero(np.isfinite(temperature))
        if where.size == 0:
            findings.problem(table.file, "The column has no reading. Leave it out.", column=heading)
            continue
        elapsed_h = elapsed_of(times, where, rows, findings, context, file=table.file, batch=place.batch)
        if elapsed_h is not None:
            readings.append(
                SensorReadings(
                    place.batch,
                    place.curing,
                    place.placement,
                    heading,
                    elapsed_h,
                    temperature[where],
                    rows[where],
                )
            )
    return tuple(readings) if len(findings.problems) == n_before else None


def _sensor_positions(table: Table, sensors: Mapping[str, Place], findings: Findings) -> dict[str, int]:
    given = {normalise_heading(heading): position for position, heading in enumerate(table.headings)}
    positions: dict[str, int] = {}
    for heading in sensors:
        position = given.get(normalise_heading(heading))
        if position is None:
            near = nearest(heading, table.headings)
            guess = f' Perhaps "{near}" is meant.' if near else ""
            findings.problem(
                table.file,
                f'There is no sensor column "{heading}". The headings are: '
                f"{listed(head or '(blank)' for head in table.headings)}.{guess}",
                column="temperature_file.columns",
            )
            continue
        positions[heading] = position
    return positions


def _temperatures(table: Table, position: int, findings: Findings, context: ReadingContext) -> FloatArray:
    cells: tuple[Cell, ...] = tuple(
        None if isinstance(cell, str) and cell.strip().lower() in NO_READING else cell
        for cell in table.columns[position]
    )
    bare = Table(
        table.file,
        (table.headings[position],),
        (cells,),
        table.row_numbers,
        table.is_comma_decimal,
        table.sheet,
    )
    values = number_column(bare, 0, findings, is_required=False)
    word = normalise_heading(table.headings[position]).rsplit("_", 1)[-1]
    unit = context.unit or ("F" if word in ("f", "fahrenheit") else "C")
    return celsius_from_fahrenheit(values) if unit == "F" else values
