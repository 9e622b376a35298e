"""Whatever stands in a file, the answer is a plan or a list of problems, never a traceback."""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.read import check_plan
from tests.read.invented_study import break_rows, csv_bytes, plan_text, temperature_rows, write_study, xlsx_bytes

CALM = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])

CELLS = st.one_of(
    st.text(max_size=8),
    st.integers(-5, 5_000).map(str),
    st.floats().map(str),
    st.sampled_from(["", "B1", "standard", "12 h", "20,5", "1.234,5", "=A1", "\x00", '"', "-0", "1e308", "9" * 400]),
)
HEADINGS = st.sampled_from(
    [
        "batch",
        "mix",
        "specimen",
        "geometry",
        "curing",
        "age_h",
        "age_d",
        "age",
        "strength_mpa",
        "strength_psi",
        "void",
        "placement",
        "elapsed_h",
        "temperature_c",
        "temperature_f",
        "sensor",
        "x",
        "",
        "strenght_mpa",
    ]
)


def check_any(breaks: bytes, *, break_file: str = "breaks.csv", temperatures: bytes | None = None) -> None:
    """Read a study of these bytes; every problem must name a file and say something."""
    with tempfile.TemporaryDirectory() as folder:
        path = write_study(Path(folder), breaks=breaks, break_file=break_file, temperatures=temperatures)
        settle(path)


def settle(path: Path) -> None:
    plan, problems = check_plan(path)
    assert (plan is None) == bool(problems)
    for problem in problems:
        assert problem.file
        assert problem.text.endswith((".", "?"))


@CALM
@given(st.binary(max_size=400))
def test_random_bytes_as_text_tables(content: bytes) -> None:
    check_any(content, temperatures=content)


@CALM
@given(st.lists(HEADINGS, min_size=1, max_size=8), st.lists(st.lists(CELLS, max_size=9), max_size=6))
def test_random_cells_under_known_headings(headings: list[str], rows: list[list[str]]) -> None:
    content = csv_bytes([headings, *rows]).replace(b"\x00", b"")
    check_any(content, temperatures=content)


@CALM
@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=6))
def test_damaged_text_tables(place: int, patch: bytes) -> None:
    breaks, temperatures = csv_bytes(break_rows()), csv_bytes(temperature_rows(step_h=100))
    check_any(damaged(breaks, place, patch), temperatures=damaged(temperatures, place, patch))


@CALM
@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=6))
def test_damaged_workbooks(place: int, patch: bytes) -> None:
    check_any(damaged(xlsx_bytes(break_rows()), place, patch), break_file="breaks.xlsx")


@CALM
@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=6))
def test_damaged_sheets_in_sound_archives(place: int, patch: bytes) -> None:
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(xlsx_bytes(break_rows()))) as sound,
        zipfile.ZipFile(stream, "w") as other,
    ):
        for name in sound.namelist():
            content = sound.read(name)
            other.writestr(name, damaged(content, place, patch) if "sheet" in name else content)
    check_any(stream.getvalue(), break_file="breaks.xlsx")


@CALM
@given(st.binary(max_size=200))
def test_random_bytes_as_workbooks(content: bytes) -> None:
    check_any(b"PK\x03\x04" + content, break_file="breaks.xlsx")


@CALM
@given(st.binary(max_size=300))
def test_random_bytes_as_plans(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.toml"
        path.write_bytes(content)
        settle(path)


@CALM
@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=6))
def test_damaged_plans(place: int, patch: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = write_study(Path(folder))
        path.write_bytes(damaged(plan_text().encode(), place, patch))
        settle(path)


MOMENTS = st.one_of(
    st.datetimes().map(str),
    st.datetimes().map(lambda moment: moment.strftime("%d/%m/%Y %I:%M %p")),
    st.sampled_from(["2027-03-28 02:30", "2027-10-31T02:30", "2027-10-31T02:30+14:00", "00.00.0000 00:00", "12:00"]),
    st.sampled_from(["0001-01-01T00:00+14:00", "9999-12-31T23:59-12:00", "2027-03-01", "31/04/2027 12:00", "13/13/13"]),
    CELLS,
)
ROUGH = """
[prior]
breaks = "breaks.csv"
temperatures = "temperatures.csv"
batches = "batches.csv"
[laboratory]
time_zone = "Europe/Oslo"
"""
PROBES = '[temperature_file]\ncolumns = {"temperature_c" = "B1/site"}\n'


@CALM
@given(
    st.lists(st.tuples(st.sampled_from(["B1", "B2", ""]), MOMENTS), min_size=1, max_size=4),
    st.lists(st.tuples(MOMENTS, CELLS), max_size=5),
    st.lists(st.tuples(MOMENTS, CELLS), max_size=5),
    st.booleans(),
)
def test_random_clock_times(
    batches: list[tuple[str, str]],
    breaks: list[tuple[str, str]],
    readings: list[tuple[str, str]],
    is_logger: bool,
) -> None:
    tables = {
        "batches.csv": [("batch", "cast_at"), *batches],
        "breaks.csv": [
            ("batch", "tested_at", "load_kn", "diameter_mm"),
            *(("B1", *row, "100") for row in breaks),
        ],
        "temperatures.csv": [
            ("batch", "curing", "time", "temperature_c"),
            *(("B1", "site", *row) for row in readings),
        ],
    }
    with tempfile.TemporaryDirectory() as folder:
        for name, rows in tables.items():
            (Path(folder) / name).write_bytes(csv_bytes(rows).replace(b"\x00", b""))
        path = Path(folder) / "plan.toml"
        path.write_text(plan_text(prior=None) + ROUGH + (PROBES if is_logger else ""))
        settle(path)


AGE_HEADINGS = st.sampled_from(["batch", "curing", "12 h", "12 h (2)", "28 d psi", "1 d #1", "", "3 d", "7 days ksi"])


@CALM
@given(st.lists(AGE_HEADINGS, max_size=7), st.lists(st.lists(CELLS, max_size=9), max_size=5))
def test_random_cells_under_ages_across(headings: list[str], rows: list[list[str]]) -> None:
    check_any(csv_bytes([["batch", "12 h", *headings, "3 d"], *rows]).replace(b"\x00", b""))


SCALARS = st.one_of(
    st.sampled_from(['"12 h"', '"10 %"', "3", "0.1", "true", "nan", "-inf", '""', "1979-05-27", "07:32:00", "1e400"]),
    st.integers().map(str),
)
VALUES = st.one_of(SCALARS, st.lists(SCALARS, max_size=3).map(lambda items: f"[{', '.join(items)}]"), st.just("{}"))
KEYS = st.sampled_from(
    [
        "ages",
        "tolerance",
        "weights",
        "specimens",
        "fewest_ages",
        "most_ages",
        "specimens_per_age",
        "breaks",
        "open",
        "days",
        "closed",
        "currency",
        "break",
        "within_test_cv",
        "schedules",
        "families",
        "datum_c",
        "spares",
        "odd",
    ]
)
TABLES = st.sampled_from(
    [
        "prior",
        "target",
        "choices",
        "budget",
        "curves",
        "maturity",
        "compare",
        "programme",
        "costs",
        "laboratory",
        "odd",
    ]
)


@CALM
@given(st.dictionaries(TABLES, st.dictionaries(KEYS, VALUES, max_size=5), max_size=6))
def test_random_keys_and_values(plan: dict[str, dict[str, str]]) -> None:
    lines = []
    for table, keys in plan.items():
        lines.append(f"[{table}]")
        lines += [f"{key} = {value}" for key, value in keys.items()]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.toml"
        path.write_text("\n".join(lines))
        settle(path)


def damaged(content: bytes, place: int, patch: bytes) -> bytes:
    """Overwrite some bytes somewhere."""
    place %= len(content)
    return content[:place] + patch + content[place + len(patch) :]
