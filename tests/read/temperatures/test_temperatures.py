"""Temperature files: records in hours and degrees C, and what is wrong with them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.read import load_plan
from planner.read.parsing.findings import Findings
from planner.read.temperatures.curing_records import build_curing_records
from planner.read.temperatures.temperature_file import SensorReadings
from planner.terms.records import Records
from tests.read.invented_study import (
    TEMPERATURE_HEADINGS,
    Rows,
    only_problem,
    problems_of,
    temperature_rows,
    write_study,
)


def records_of(folder: Path, temperatures: Rows, **study: Any) -> Records:
    return load_plan(write_study(folder, temperatures=temperatures, **study)).records


def codes(records: Records) -> set[str]:
    return {caution.code for caution in records.cautions}


def changed(row: int, column: str, value: Any) -> Rows:
    rows = temperature_rows()
    rows[row - 1][TEMPERATURE_HEADINGS.index(column)] = value
    return rows


def test_the_plain_shape(tmp_path: Path) -> None:
    records = records_of(tmp_path, temperature_rows())
    assert [(r.batch, r.curing, r.placement) for r in records.curing_records] == [
        ("B1", "standard", ""),
        ("B2", "standard", ""),
    ]
    first = records.curing_records[0]
    np.testing.assert_array_equal(first.elapsed_h, np.arange(0, 673, 4))
    np.testing.assert_array_equal(first.temperature_c, np.full(169, 20.5))
    assert not first.elapsed_h.flags.writeable
    assert records.cautions == ()


def test_fahrenheit_and_days(tmp_path: Path) -> None:
    rows = [["batch", "curing", "elapsed (days)", "Temperature (°F)"]]
    rows += [[batch, curing, elapsed / 24, 68.9] for batch, curing, elapsed, _ in temperature_rows()[1:]]
    record = records_of(tmp_path, rows).curing_records[0]
    np.testing.assert_allclose(record.elapsed_h, np.arange(0, 673, 4), rtol=1e-14)
    np.testing.assert_allclose(record.temperature_c, 20.5, rtol=1e-14)


FAULTS: list[tuple[str, Rows, int | None, str | None, str]] = [
    ("backwards", changed(5, "elapsed_h", 3), 5, "elapsed_h",
     r'batch "B1", standard goes backwards: 3 h follows 8 h'),
    ("no number", changed(5, "temperature_c", "warm"), 5, "temperature_c", 'Given "warm"'),
    ("not finite", changed(5, "temperature_c", "nan"), 5, "temperature_c", "must be a finite number"),
    ("impossible", changed(5, "temperature_c", 900), 5, "temperature", "900 C, outside -40 C to 120 C"),
    ("empty", changed(5, "temperature_c", ""), 5, "temperature_c", "cell is empty"),
    ("unknown curing", changed(5, "curing", "oven"), 5, "curing", 'curing "oven" is not known'),
    ("no batch", changed(5, "batch", ""), 5, "batch", "Name the batch"),
    ("headings only", temperature_rows()[:1], None, None, "headings but no rows"),
    ("no temperature", [r[:3] for r in temperature_rows()], None, None, 'There is no column "temperature_c"'),
    ("no time", [[*r[:2], r[3]] for r in temperature_rows()], None, None, 'There is no column "elapsed_h"'),
    ("near time", [["batch", "curing", "elasped_h", "temperature_c"], *temperature_rows()[1:]], None,
     "elasped_h",
     'nearest known is "elapsed_h"'),
    ("one reading", [*temperature_rows(), ["B3", "standard", 0, 20]], None, None,
     'batch "B3", standard has 1 readings'),
]  # fmt: skip


@pytest.mark.parametrize(("rows", "row", "column", "message"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_a_fault_is_named_with_its_row(
    tmp_path: Path, rows: Rows, row: int | None, column: str | None, message: str
) -> None:
    problem = only_problem(write_study(tmp_path, temperatures=rows))
    assert (problem.file, problem.row, problem.column) == ("temperatures.csv", row, column)
    assert re.search(message, problem.text), problem.text


def test_a_sudden_jump_is_refused_up_and_down(tmp_path: Path) -> None:
    hourly = temperature_rows(step_h=1)
    hourly[30][3] = 75
    problems = problems_of(write_study(tmp_path, temperatures=hourly))
    assert [problem.row for problem in problems] == [31, 32]
    assert "jumps from 20.5 C to 75 C within 1 h, more than 40 K" in problems[0].text


def test_a_large_change_over_a_long_step_is_a_caution(tmp_path: Path) -> None:
    rows = changed(5, "temperature_c", 65)  # readings every four hours
    assert codes(records_of(tmp_path, rows)) == {"temperature-jump"}


def test_a_gap_is_a_caution_and_bridged(tmp_path: Path) -> None:
    rows = temperature_rows()
    del rows[10:13]
    records = records_of(tmp_path, rows)
    assert codes(records) == {"temperature-gap"}
    assert records.cautions[0].text == (
        'temperatures.csv: 1 record has gaps over 6 h, bridged by straight lines (batch "B1", standard: 1, the longest '
        "16 h before row 11). A peak in a gap is not seen."
    )
    assert records.curing_records[0].elapsed_h.size == 166


def test_gaps_of_many_records_are_one_caution() -> None:
    sensors = [
        SensorReadings(
            batch=f"B{at}", curing="standard", placement="", sensor="", is_fahrenheit=False,
            elapsed_h=np.array([0.0, 6.0, 6.0 + step, 30.0]), temperature_c=np.full(4, 20.0),
            rows=np.arange(4 * at, 4 * at + 4),
        )
        for at, step in enumerate([6.0, 6.1, 7.0, 8.0, 12.0, 9.0], start=1)
    ]  # fmt: skip
    findings = Findings()
    build_curing_records("t.csv", sensors, findings)
    (caution,) = findings.cautions
    # from row to row 0, 6 and then up to 30 h; B1: 6, 6 and 18 h, the last before its fourth row, 4 + 3
    assert caution.text.startswith('t.csv: 6 records have gaps over 6 h, bridged by straight lines (batch "B1"')
    assert 'batch "B1", standard: 1, the longest 18 h before row 7; batch "B2", standard: 2,' in caution.text
    assert caution.text.endswith(" and 2 more). A peak in a gap is not seen.")
    assert [f'"B{at}"' in caution.text for at in range(1, 7)] == [True, True, True, True, False, False]


def test_a_record_that_ends_before_its_break_is_refused(tmp_path: Path) -> None:
    path = write_study(tmp_path, temperatures=temperature_rows(last_h=100))
    problems = problems_of(path)
    assert [problem.row for problem in problems] == [8, 9, 16, 17]
    assert 'break is at 672 h, but the temperature record of batch "B1", standard' in problems[0].text
    assert "ends at 100 h" in problems[0].text


def test_standard_curing_goes_on_at_its_stated_temperature(tmp_path: Path) -> None:
    records = records_of(tmp_path, temperature_rows(last_h=100), prior="standard_curing_c = 20")
    assert codes(records) == {"record-continued"}
    assert "B1 from 100 h" in records.cautions[0].text
    assert records.curing_records[0].elapsed_h[-1] == 100.0


def test_a_record_that_ends_within_its_interval_is_carried_on(tmp_path: Path) -> None:
    rows = [row for row in temperature_rows(step_h=1) if row[2] != 672]
    record = records_of(tmp_path, rows).curing_records[0]
    assert record.elapsed_h[-2:].tolist() == [671.0, 672.0]
    assert record.temperature_c[-1] == 20.5


def test_readings_before_age_zero_are_dropped_aloud(tmp_path: Path) -> None:
    rows = temperature_rows()
    rows.insert(1, ["B1", "standard", -4, 12])
    records = records_of(tmp_path, rows)
    assert codes(records) == {"readings-before-zero"}
    assert records.curing_records[0].elapsed_h[0] == 0.0


def test_a_late_start_is_a_caution(tmp_path: Path) -> None:
    rows = temperature_rows()
    del rows[1]
    assert codes(records_of(tmp_path, rows)) == {"temperature-late-start"}


def test_records_that_serve_no_break_are_a_caution(tmp_path: Path) -> None:
    rows = [*temperature_rows(), ["B9", "site", 0, 20], ["B9", "site", 4, 20]]
    records = records_of(tmp_path, rows)
    assert codes(records) == {"temperature-unused"}
    assert "B9 site" in records.cautions[0].text


def sensors(*readings: tuple[str, Sequence[float]]) -> Rows:
    rows: Rows = [[*TEMPERATURE_HEADINGS, "sensor"]]
    for batch in ("B1", "B2"):
        for name, temperatures in readings:
            rows += [
                [batch, "lab" if name == "b" else "standard", hour, t, name]
                for hour, t in zip((0, 6, 672), temperatures, strict=True)
            ]
    return rows


def test_sensors_of_one_placement_are_averaged(tmp_path: Path) -> None:
    records = records_of(tmp_path, sensors(("a", (20, 30, 20)), ("b", (21, 31.5, 20))))
    assert "sensors-apart" not in codes(records)
    np.testing.assert_allclose(records.curing_records[0].temperature_c, [20.5, 30.75, 20])
    assert len(records.curing_records) == 2


def test_sensors_that_disagree_are_named(tmp_path: Path) -> None:
    records = records_of(tmp_path, sensors(("a", (20, 30, 20)), ("b", (20, 32.5, 20))))
    text = next(caution.text for caution in records.cautions if caution.code == "sensors-apart")
    assert "differ by up to 2.5 C, at 6 h" in text


def test_readings_of_one_instant_are_averaged(tmp_path: Path) -> None:
    rows = temperature_rows()
    rows.insert(3, ["B1", "standard", 4, 22.5])
    record = records_of(tmp_path, rows).curing_records[0]
    assert record.elapsed_h.size == 169
    assert record.temperature_c[1] == 21.5


def placements(*names: str) -> Rows:
    rows: Rows = [[*TEMPERATURE_HEADINGS, "placement"]]
    return rows + [[*row, name] for name in names for row in temperature_rows()[1:]]


def test_a_break_must_say_which_of_several_records_serves_it(tmp_path: Path) -> None:
    problems = problems_of(write_study(tmp_path, temperatures=placements("north", "south")))
    assert len(problems) == 2  # one a batch, with all its rows
    assert "rows 3, 4, 5" in problems[0].text
    assert "names no placement, but there are 2 temperature records: north, south" in problems[0].text


def test_one_record_serves_every_placement(tmp_path: Path) -> None:
    assert len(records_of(tmp_path, placements("north")).curing_records) == 2


@pytest.mark.parametrize(("n_readings", "last_c", "is_told"), [(10, 21.0, True), (9, 21.0, False), (10, 21.1, False)])
def test_one_record_under_two_batches_is_told_from_ten_readings_on(
    tmp_path: Path, n_readings: int, last_c: float, is_told: bool
) -> None:
    breaks: Rows = [["batch", "curing", "age_h", "strength_mpa"]]
    breaks += [[batch, "site", 12, strength] for batch, strength in (("B1", 10.0), ("B2", 11.0))]
    hours = np.linspace(0.0, 13.0, n_readings).tolist()
    rows: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    rows += [["B1", "site", hour, 20.0 + hour / 13.0] for hour in hours]
    rows += [["B2", "site", hour, 20.0 + hour / 13.0 * (last_c - 20.0)] for hour in hours]
    found = [item.code for item in load_plan(write_study(tmp_path, breaks=breaks, temperatures=rows)).records.cautions]
    assert ("temperatures-copied" in found) == is_told


def test_one_record_under_many_batches_is_told_once(tmp_path: Path) -> None:
    batches = ["B1", "B2", "B3"]
    breaks: Rows = [["batch", "curing", "age_h", "strength_mpa"]]
    breaks += [[batch, "site", 12, 10.0 + place] for place, batch in enumerate(batches)]
    rows: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    rows += [[batch, "site", hour, 20.0 + hour] for batch in batches for hour in range(14)]
    said = load_plan(write_study(tmp_path, breaks=breaks, temperatures=rows)).records.cautions
    (copied,) = [item.text for item in said if item.code == "temperatures-copied"]
    assert 'batch "B1", site; batch "B2", site; batch "B3", site are equal' in copied
