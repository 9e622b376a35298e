"""One invented study in seven shapes that laboratories keep, and ten that must be refused."""

from __future__ import annotations

import datetime as dt
import math
import re
import zoneinfo
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.read import load_plan, tidy
from planner.terms.records import Records
from planner.units import MPA_PER_PSI, fahrenheit_from_celsius

from .invented_study import Rows, csv_bytes, only_problem, plan_text, problems_of, xlsx_bytes

ZONE = "Europe/Oslo"
CAST = {
    "N1": dt.datetime(2027, 3, 27, 14, 0),
    "N2": dt.datetime(2027, 10, 30, 9, 30),
}  # both before a clock change
AGES = (12, 24, 72)
CYLINDER = "cylinder 100x200 mm"
AREA = math.pi / 4 * 100.0**2


def strengths(batch: str, age: int) -> tuple[float, ...]:
    base = {12: 11.5, 24: 21.25, 72: 33.75}[age] + (2.0 if batch == "N2" else 0.0)
    return (base, base + 0.25)


def temperature(batch: str, hour: int) -> float:
    return 20.0 + (0.5 if batch == "N2" else 0.0) + 10.0 * math.exp(-((hour - 14) ** 2) / 60.0) // 0.25 * 0.25


def local(batch: str, hours: float) -> dt.datetime:
    """The wall clock so many true hours after casting."""
    zone = zoneinfo.ZoneInfo(ZONE)
    cast = CAST[batch].replace(tzinfo=zone).astimezone(dt.UTC)
    return (cast + dt.timedelta(hours=hours)).astimezone(zone)


def each_break() -> list[tuple[str, int, float]]:
    return [(batch, age, value) for batch in CAST for age in AGES for value in strengths(batch, age)]


def each_reading() -> list[tuple[str, int, float]]:
    return [(batch, hour, temperature(batch, hour)) for batch in CAST for hour in range(0, 97)]


def batch_rows() -> Rows:
    return [
        ["batch", "mix", "cast_at", "age_zero"],
        *([batch, "N", cast.isoformat(" ", "minutes"), "moulded"] for batch, cast in CAST.items()),
    ]


Shape = Callable[[], tuple[dict[str, bytes], str, dict[str, str]]]  # files, lines of [prior], more tables
ZONED = {"laboratory": f'time_zone = "{ZONE}"'}


def long_table() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks = [["batch", "mix", "geometry", "curing", "age_h", "strength_mpa"]]
    breaks += [[b, "N", CYLINDER, "site", str(age), str(value)] for b, age, value in each_break()]
    readings: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    readings += [[b, "site", hour, value] for b, hour, value in each_reading()]
    return {"breaks.csv": csv_bytes(breaks), "temperatures.csv": csv_bytes(readings)}, "", {}


def comma(value: float) -> str:
    return repr(value).replace(".", ",")


def european_table() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks: Rows = [["Batch", "Mix", "Curing", "Geometry", "Age", "Strength (N/mm²)"]]
    breaks += [[b, "N", "field", "Cylinder 100 × 200 mm", f"{age} h", str(v).replace(".", ",")]
               for b, age, v in each_break()]  # fmt: skip
    readings: Rows = [["Batch", "Curing", "Elapsed (days)", "Temperature (°F)"]]
    readings += [[b, "field", comma(hour / 24), comma(fahrenheit_from_celsius(v))]
                 for b, hour, v in each_reading()]  # fmt: skip
    files = {"breaks.csv": b"\xef\xbb\xbf" + csv_bytes(breaks, delimiter=";", newline="\r\n")}
    return files | {"temperatures.csv": csv_bytes(readings, delimiter=";")}, "", {}


def psi_workbooks() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks: Rows = [["Test report", "", "", "", "", ""], ["", "", "", "", "", ""]]
    breaks += [["batch", "mix", "geometry", "curing", "age_d", "strength_psi"]]
    breaks += [[b, "N", CYLINDER, "site", age / 24, value / MPA_PER_PSI] for b, age, value in each_break()]
    readings: Rows = [["batch", "curing", "elapsed_h", "temperature_c"]]
    readings += [[b, "site", hour, value] for b, hour, value in each_reading()]
    files = {"breaks.xlsx": xlsx_bytes(breaks, before=("Cover",)), "temperatures.xlsx": xlsx_bytes(readings)}
    return files, "", {}


def clock_tables() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks: Rows = [["batch", "geometry", "curing", "age_h", "tested_at", "strength_mpa"]]
    breaks += [[b, CYLINDER, "site", age, local(b, age).isoformat(" ", "minutes"), v] for b, age, v in each_break()]
    readings: Rows = [["batch", "curing", "time", "temperature_c"]]
    readings += [[b, "site", local(b, hour).strftime("%Y-%m-%d %H:%M"), v] for b, hour, v in each_reading()]
    files = {"breaks.csv": csv_bytes(breaks), "temperatures.csv": csv_bytes(readings)}
    return files | {"batches.csv": csv_bytes(batch_rows())}, 'batches = "batches.csv"', ZONED


def load_tables() -> tuple[dict[str, bytes], str, dict[str, str]]:
    files, _, _ = long_table()
    breaks: Rows = [["batch", "mix", "geometry", "curing", "age_h", "load_kn", "diameter_mm", "height_mm"]]
    breaks += [[b, "N", CYLINDER, "site", age, value * AREA / 1000, 100, 200] for b, age, value in each_break()]
    return files | {"breaks.csv": csv_bytes(breaks)}, "", {}


def wide_and_logger() -> tuple[dict[str, bytes], str, dict[str, str]]:
    headings = ["batch", "mix", "geometry", "curing"] + [f"{age} h #{n}" for age in AGES for n in (1, 2)]
    wide: Rows = [headings]
    wide += [[b, "N", CYLINDER, "site", *(v for age in AGES for v in strengths(b, age))] for b in CAST]
    logger: Rows = [["Logger 7, exported"], ["Time", "Probe A", "Probe B"]]
    moments = [(local(b, hour), b, value) for b, hour, value in each_reading()]
    for moment, batch, value in sorted(moments, key=lambda entry: entry[0].timestamp()):
        cells = [value, "---"] if batch == "N1" else ["---", value]
        logger.append([moment.strftime("%d.%m.%Y %I:%M %p"), *cells])
    files = {"breaks.csv": csv_bytes(wide), "temperatures.csv": csv_bytes(logger)}
    table = 'skip_rows = 1\ntime_format = "%d.%m.%Y %I:%M %p"\n'
    table += 'columns = {"Probe A" = "N1/site", "Probe B" = "N2/site"}'
    files["batches.csv"] = csv_bytes(batch_rows())
    return files, 'batches = "batches.csv"', ZONED | {"temperature_file": table}


def date_cells() -> tuple[dict[str, bytes], str, dict[str, str]]:
    breaks: Rows = [["batch", "geometry", "curing", "age_h", "tested_at", "strength_ksi"]]
    breaks += [[b, CYLINDER, "site", age, local(b, age).replace(tzinfo=None), v / MPA_PER_PSI / 1000]
               for b, age, v in each_break()]  # fmt: skip
    readings: Rows = [["batch", "curing", "time", "temperature_c"]]
    readings += [[b, "site", local(b, hour).replace(tzinfo=None), v] for b, hour, v in each_reading()]
    batches = [batch_rows()[0], *([b, "N", cast, "moulded"] for b, cast in CAST.items())]
    files = {"breaks.xlsx": xlsx_bytes(breaks), "temperatures.xlsx": xlsx_bytes(readings)}
    return files | {"batches.xlsx": xlsx_bytes(batches)}, 'batches = "batches.xlsx"', ZONED


SHAPES: list[Shape] = [
    long_table, european_table, psi_workbooks, clock_tables, load_tables, wide_and_logger, date_cells,
]  # fmt: skip


def write_shape(folder: Path, shape: Shape, **changes: bytes) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    files, prior, tables = shape()
    for name, content in {
        **files,
        **{key.replace("__", "."): value for key, value in changes.items()},
    }.items():
        (folder / name).write_bytes(content)
    names = {name.split(".")[0]: name for name in files}
    lines = [f'{kind} = "{names[kind]}"' for kind in ("breaks", "temperatures")]
    tables = {"choices": CHOICES, "prior": "\n".join([*lines, prior]), **tables}
    path = folder / "plan.toml"
    path.write_text(plan_text(**tables), encoding="utf-8")
    return path


CHOICES = 'ages = ["12 h", "1 d", "2 d", "3 d"]\nfewest_ages = 3\nmost_ages = 4\nspecimens_per_age = [2, 4]'


def cells(records: Records) -> dict[tuple[str, str, str, str, float], list[float]]:
    found: dict[tuple[str, str, str, str, float], list[float]] = defaultdict(list)
    for item in records.breaks:
        found[item.batch, item.mix, item.curing, item.geometry, item.age_h].append(item.strength_mpa)
        assert item.tested_h == item.age_h
    return dict(found)


@pytest.mark.parametrize("shape", SHAPES[1:], ids=lambda shape: shape.__name__)
def test_every_shape_gives_the_same_records(tmp_path: Path, shape: Shape) -> None:
    plain = load_plan(write_shape(tmp_path / "plain", long_table)).records
    other = load_plan(write_shape(tmp_path / "other", shape)).records
    is_exact = shape in (clock_tables, wide_and_logger)  # the others convert units there and back
    rel = 0.0 if is_exact else 1e-13
    assert cells(other).keys() == cells(plain).keys()
    for key, values in cells(plain).items():
        assert cells(other)[key] == pytest.approx(values, rel=rel, abs=0.0)
    assert [(r.batch, r.curing, r.placement) for r in other.curing_records] == [
        ("N1", "site", ""),
        ("N2", "site", ""),
    ]
    for ours, theirs in zip(plain.curing_records, other.curing_records, strict=True):
        np.testing.assert_allclose(theirs.elapsed_h, ours.elapsed_h, rtol=rel, atol=0)
        np.testing.assert_allclose(theirs.temperature_c, ours.temperature_c, rtol=rel, atol=0)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.__name__)
def test_the_tidy_form_reads_back_to_the_same(tmp_path: Path, shape: Shape) -> None:
    plan = load_plan(write_shape(tmp_path / "rough", shape))
    written = tidy(plan, tmp_path / "tidy")
    assert [path.name for path in written] == ["breaks.csv", "temperatures.csv"]
    (tmp_path / "tidy" / "plan.toml").write_text(
        plan_text(choices=CHOICES, prior='breaks = "breaks.csv"\ntemperatures = "temperatures.csv"')
    )
    back = load_plan(tmp_path / "tidy" / "plan.toml").records
    assert cells(back) == cells(plan.records)
    for ours, theirs in zip(plan.records.curing_records, back.curing_records, strict=True):
        np.testing.assert_array_equal(theirs.elapsed_h, ours.elapsed_h)
        np.testing.assert_array_equal(theirs.temperature_c, ours.temperature_c)


def rewritten(rows: Rows, row: int, column: str, value: Any) -> bytes:
    rows = [list(cells) for cells in rows]
    rows[row - 1][rows[0].index(column)] = value
    return csv_bytes(rows)


def breaks_with(*, row: int, column: str, value: Any) -> dict[str, bytes]:
    text = clock_tables()[0]["breaks.csv"].decode().splitlines()
    return {"breaks__csv": rewritten([line.split(",") for line in text], row, column, value)}


def batches_with(row: int, column: str, value: Any) -> dict[str, bytes]:
    return {"batches__csv": rewritten(batch_rows(), row, column, value)}


def all_cast(text: str) -> bytes:
    return rewritten([batch_rows()[0], ["N1", "N", "", "moulded"]], 2, "cast_at", text)


REFUSED: dict[str, tuple[dict[str, bytes], str, int | None, str]] = {
    "tested before it was cast": (
        breaks_with(row=2, column="tested_at", value="2027-03-27 02:00"), "breaks.csv", 2,
        "12 h before batch"),
    "a day wrong": (
        breaks_with(row=2, column="tested_at", value="2027-03-29 03:00"), "breaks.csv", 2,
        "at 36 h but its nominal age is 12 h"),
    "an hour that never was": (
        breaks_with(row=2, column="tested_at", value="2027-03-28 02:30"), "breaks.csv", 2,
        "2027-03-28 02:30:00 never was in Europe/Oslo"),
    "an hour that was twice": (
        batches_with(3, "cast_at", "2027-10-31 02:30"), "batches.csv", 3,
        "2027-10-31 02:30:00 was twice in Europe/Oslo"),
    "a date without a time": (
        breaks_with(row=2, column="tested_at", value="2027-03-28"), "breaks.csv", 2, "has no time of day"),
    "mixed age zero": (
        batches_with(3, "age_zero", "placed"), "batches.csv", None, r"moulded \(row 2\), placed \(row 3\)"),
    "unknown age zero": (
        batches_with(3, "age_zero", "delivered"), "batches.csv", 3, "water added, moulded, placed"),
    "a batch twice": (batches_with(3, "batch", "N1"), "batches.csv", 3, "already stands in row 2"),
    "a batch that is not listed": (
        breaks_with(row=2, column="batch", value="N3"), "breaks.csv", 2, "not in batches.csv"),
    "day and month that may change places": (
        batches_with(2, "cast_at", "03/04/2027 14:00"), "batches.csv", 2,
        r"2027-04-03 \(day first\) or 2027-03-04 \(month first\)"),
    "a mix that is contradicted": (
        {"breaks__csv": csv_bytes([["batch", "mix", "age_h", "strength_mpa"], ["N1", "Z", 24, 20]])},
        "breaks.csv", 2, 'of mix "Z", but "N" in batches.csv'),
}  # fmt: skip


def test_faults_of_batches_and_breaks_come_together(tmp_path: Path) -> None:
    changes = batches_with(3, "age_zero", "delivered") | breaks_with(row=3, column="strength_mpa", value="?")
    problems = problems_of(write_shape(tmp_path, clock_tables, **changes))
    assert [(problem.file, problem.row) for problem in problems] == [("batches.csv", 3), ("breaks.csv", 3)]


@pytest.mark.parametrize("name", REFUSED)
def test_wrong_files_are_refused_with_one_message(tmp_path: Path, name: str) -> None:
    changes, file, row, message = REFUSED[name]
    problem = only_problem(write_shape(tmp_path, clock_tables, **changes))
    assert (problem.file, problem.row) == (file, row)
    assert re.search(message, problem.text), problem.text
