"""Exports of loggers, and sensors at fault."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.read import load_plan
from planner.read.temperatures.sensor_faults import spikes, stuck_spell, wrong_unit
from planner.terms.records import Records
from tests.read.invented_study import CHOICES_LATE, Rows, csv_bytes, only_problem, plan_text, write_study

BREAKS: Rows = [
    ["batch", "curing", "age_h", "strength_mpa"],
    *(["B1", "site", age, strength] for age, strength in ((24, 20.0), (48, 26.0), (72, 30.0))),
]
BATCHES: Rows = [["batch", "cast_at", "age_zero"], ["B1", "2027-06-01 08:00", "placed"]]


def export(*, days: int = 4) -> Rows:
    """Two probes every hour from two hours before casting."""
    rows: Rows = [["Date", "Time", "Core (°C)", "Edge (°C)"]]
    for hour in range(-2, 24 * days):
        day, clock = divmod(hour + 8, 24)
        rows.append([f"2027-06-{1 + day:02d}", f"{clock:02d}:00", 21.0 + hour % 3, 20.0 + hour % 3])
    return rows


def write(folder: Path, rows: Rows, *, table: str | None = None, batches: Rows | None = BATCHES, **tables: str) -> Path:
    lines = ""
    if batches is not None:
        (folder / "batches.csv").write_bytes(csv_bytes(batches))
        lines = 'batches = "batches.csv"\n'
    table = 'columns = {"Core (°C)" = "B1/site", "Edge (°C)" = "B1/site"}' if table is None else table
    prior = 'breaks = "breaks.csv"\ntemperatures = "temperatures.csv"\n' + lines
    plan = plan_text(**{"prior": prior, "temperature_file": table, **tables})
    return write_study(folder, breaks=BREAKS, temperatures=rows, plan=plan)


def codes(records: Records) -> set[str]:
    return {item.code for item in records.cautions}


def test_two_probes_of_one_place_are_averaged_from_casting_on(tmp_path: Path) -> None:
    records = load_plan(write(tmp_path, export(), laboratory='time_zone = "Europe/Oslo"')).records
    record = records.curing_records[0]
    assert (record.batch, record.curing) == ("B1", "site")
    np.testing.assert_array_equal(record.elapsed_h, np.arange(0, 96))
    np.testing.assert_array_equal(record.temperature_c, 20.5 + np.arange(96) % 3)
    assert "readings-before-zero" in codes(records)
    assert "time-zone-assumed" not in codes(records)


def test_a_zone_nobody_stated_is_said(tmp_path: Path) -> None:
    assert "time-zone-assumed" in codes(load_plan(write(tmp_path, export())).records)


@pytest.mark.parametrize(
    ("table", "column", "message"),
    [
        (
            'columns = {"Core" = "B1/site"}',
            "temperature_file.columns",
            'no sensor column "Core".*Perhaps "Core',
        ),
        ('columns = {"Core (°C)" = "B1"}', "temperature_file.columns", 'Given "B1" for "Core'),
        ('columns = {"Core (°C)" = "B1/shade"}', "temperature_file.columns", 'curing "shade" is not known'),
        ("columns = {}", "temperature_file.columns", "Write it like"),
        ('time_format = "DD.MM"', "temperature_file.time_format", "lacks year, hour, minute"),
        ('time_zone = "Nowhere"', "temperature_file.time_zone", "no known time zone"),
        ("skip_rows = -1", "temperature_file.skip_rows", "up to 1000"),
        ('column = {"Core (°C)" = "B1/site"}', "temperature_file.column", 'nearest known is "columns"'),
    ],
)
def test_a_faulty_table_is_named(tmp_path: Path, table: str, column: str, message: str) -> None:
    problem = only_problem(write(tmp_path, export(), table=table))
    assert problem.column == column
    assert re.search(message, problem.text), problem.text


def test_an_export_without_casting_times(tmp_path: Path) -> None:
    assert "need casting times" in only_problem(write(tmp_path, export(), batches=None)).text


COLUMNS = 'columns = {"Core (°C)" = "B1/site"}\nage_zero = "first reading"'


def test_the_first_reading_stands_for_zero_only_where_hours_do_not_matter(tmp_path: Path) -> None:
    problem = only_problem(write(tmp_path, export(), table=COLUMNS, batches=None))
    assert "where a target is 12 h: a logger started an hour late would shift it by 8 %" in problem.text
    path = write(
        tmp_path, export(days=5), table=COLUMNS, batches=None, target='ages = ["3 d"]\ntolerance = "10 %"',
        choices=CHOICES_LATE,
    )  # fmt: skip
    records = load_plan(path).records
    assert "first-reading-is-zero" in codes(records)
    assert records.curing_records[0].temperature_c[0] == 22.0  # two hours before casting


@pytest.mark.parametrize(
    ("batches", "is_told"),
    [(BATCHES, False), ([row[:2] for row in BATCHES], True), ([["batch", "mix"], ["B1", "M"]], False)],
)
def test_the_moment_that_ages_count_from_is_asked_for_where_casting_times_stand(
    tmp_path: Path, batches: Rows, is_told: bool
) -> None:
    rows: Rows = [["Elapsed (h)", "Core"], *([hour, 20 + 0.1 * (hour % 3)] for hour in range(97))]
    records = load_plan(write(tmp_path, rows, table='columns = {"Core" = "B1/site"}', batches=batches)).records
    said = [caution.text for caution in records.cautions if caution.code == "age-zero-not-stated"]
    assert len(said) == is_told
    assert not said or "batches.csv does not say from which moment ages count: water added, moulded, placed" in said[0]


def test_fahrenheit_by_heading_or_by_plan(tmp_path: Path) -> None:
    rows: Rows = [["Elapsed (h)", "Probe (°F)", "Other"], *([hour, 68, 68] for hour in range(73))]
    for table in ('columns = {"Probe (°F)" = "B1/site"}', 'columns = {"Other" = "B1/site"}\nunit = "F"'):
        record = load_plan(write(tmp_path, rows, table=table, batches=None)).records.curing_records[0]
        np.testing.assert_allclose(record.temperature_c, 20.0, rtol=1e-14)


def test_fahrenheit_read_as_celsius_is_recognised(tmp_path: Path) -> None:
    rows: Rows = [["Elapsed (h)", "Other"], *([hour, 68] for hour in range(73))]
    problem = only_problem(write(tmp_path, rows, table='columns = {"Other" = "B1/site"}', batches=None))
    assert "begins at 68 C" in problem.text
    assert "read as degrees F it begins at 20 C" in problem.text


def test_an_empty_probe(tmp_path: Path) -> None:
    rows: Rows = [["Elapsed (h)", "Probe", "Dead"], *([hour, 20, "OL"] for hour in range(73))]
    table = 'columns = {"Probe" = "B1/site", "Dead" = "B1/site"}'
    problem = only_problem(write(tmp_path, rows, table=table, batches=None))
    assert (problem.column, problem.text) == ("Dead", "The column has no reading. Leave it out.")


HOURS = np.arange(200.0)
WAVES = 25.0 + 5.0 * np.sin(HOURS)


def changed(place: Any, value: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    values = WAVES.copy()
    values[place] = value
    return values


def test_spikes() -> None:
    calm = np.full(50, 20.0)
    calm[20] = 28.0
    assert spikes(HOURS[:50], calm) == [20]
    calm[21] = 28.0  # two in a row are a rise, not a spike
    assert spikes(HOURS[:50], calm) == []
    assert spikes(HOURS[:50] * 6, np.where(HOURS[:50] == 20, 28.0, 20.0)) == []  # too slow to tell
    assert spikes(HOURS[:2], calm[:2]) == []


def test_stuck_values() -> None:
    assert stuck_spell(HOURS, WAVES) is None
    assert stuck_spell(HOURS, changed(slice(50, 80), 25.0)) == (50, 79)
    assert stuck_spell(HOURS, changed(slice(50, 60), 25.0)) is None  # too short
    assert stuck_spell(HOURS, np.full(200, 20.0)) is None  # a tank that never moves


def test_wrong_units() -> None:
    assert wrong_unit("site", HOURS, WAVES) is None
    assert wrong_unit("site", HOURS, WAVES * 1.8 + 32) is not None
    assert wrong_unit("heat", HOURS, WAVES * 1.8 + 32) is None
    as_if_f = (WAVES * 0.8 - 32) / 1.8
    assert wrong_unit("site", HOURS, as_if_f) is not None
    assert wrong_unit("site", HOURS, HOURS * 0.3 + 15) is None  # warms past 55 C in use, begins cool


def test_sensor_faults_are_named_with_their_rows(tmp_path: Path) -> None:
    rows: Rows = [
        ["Elapsed (h)", "Probe"],
        *([hour, round(float(value), 3)] for hour, value in zip(HOURS, WAVES, strict=True)),
    ]
    for hour in range(60, 90):
        rows[hour + 1][1] = 25.5
    rows[71][1] = 34.0
    rows[111][1] = rows[110][1] + 9
    rows[112][1] = rows[110][1]
    records = load_plan(write(tmp_path, rows, table='columns = {"Probe" = "B1/site"}', batches=None)).records
    text = {item.code: item.text for item in records.cautions}
    assert "has 2 spikes (row 72: 34 C between 25.5 and 25.5 C, row 112" in text["temperature-spike"]
    rows[71][1] = 25.5
    records = load_plan(write(tmp_path, rows, table='columns = {"Probe" = "B1/site"}', batches=None)).records
    text = {item.code: item.text for item in records.cautions}
    assert "stays at 25.5 C from 60 to 89 h (rows 62 to 91)" in text["temperature-stuck"]
