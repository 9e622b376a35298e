"""The tables in the repository are the ones the script writes, and every plan is well formed."""

from __future__ import annotations

import csv
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.read import load_plan
from scenarios.catalogue import SCENARIOS, SEED
from scenarios.invent import invent
from scenarios.writing import write_programme

ROOT = Path(__file__).resolve().parents[2]
TABLES = (
    "scenarios/runway-panels/breaks.csv",
    "scenarios/runway-panels/temperatures.csv",
    "scenarios/tunnel-segments/breaks.csv",
    "scenarios/tunnel-segments/temperatures.csv",
    "scenarios/tunnel-segments/breaks-sparse.csv",
    "scenarios/tunnel-segments/temperatures-sparse.csv",
    "scenarios/sleepers/breaks.csv",
    "scenarios/sleepers/temperatures.csv",
    "planner/starter/breaks.csv",
    "planner/starter/temperatures.csv",
)
PLANS = (
    "scenarios/runway-panels/plan.toml",
    "scenarios/runway-panels/opening-6h.toml",
    "scenarios/runway-panels/specification.toml",
    "scenarios/tunnel-segments/plan.toml",
    "scenarios/tunnel-segments/sparse.toml",
    "scenarios/stair-core/plan.toml",
    "scenarios/sleepers/plan.toml",
    "planner/starter/plan.toml",
)
HOURS = {"h": 1.0, "d": 24.0}


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _hours(age: str) -> float:
    number, unit = age.split()
    return float(number) * HOURS[unit]


def _plan(name: str) -> dict[str, Any]:
    return tomllib.loads((ROOT / name).read_text(encoding="utf-8"))


def test_script_writes_the_tables_of_the_repository_byte_for_byte(tmp_path: Path) -> None:
    invent(tmp_path)
    written = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()}
    assert written == set(TABLES)
    for name in TABLES:
        assert (tmp_path / name).read_bytes() == (ROOT / name).read_bytes(), name


@pytest.mark.parametrize("call", [["scenarios/invent.py"], ["-m", "scenarios.invent"]])
def test_script_runs_as_a_file_and_as_a_module(tmp_path: Path, call: list[str]) -> None:
    subprocess.run([sys.executable, *call, "--out", str(tmp_path)], check=True, cwd=ROOT)
    name = "scenarios/runway-panels/breaks.csv"
    assert (tmp_path / name).read_bytes() == (ROOT / name).read_bytes()


def test_another_seed_gives_other_breaks(tmp_path: Path) -> None:
    invent(tmp_path, seed=SEED + 1)
    name = "scenarios/runway-panels/breaks.csv"
    assert (tmp_path / name).read_bytes() != (ROOT / name).read_bytes()


def test_tables_stay_small() -> None:
    assert sum((ROOT / name).stat().st_size for name in TABLES) < 1_000_000


def test_runway_panels_hold_the_cells_they_promise() -> None:
    rows = _rows(ROOT / "scenarios/runway-panels/breaks.csv")
    cells = Counter((row["batch"], row["curing"], row["placement"], float(row["age_h"])) for row in rows)
    standard = {key: count for key, count in cells.items() if key[1] == "standard"}
    assert len(standard) == 9 * 10
    assert {key for key, count in cells.items() if count != 3} == {("R3", "standard", "", 48.0)}
    assert cells[("R3", "standard", "", 48.0)] == 2
    sites = {(batch, placement) for batch, curing, placement, _ in cells if curing == "site"}
    assert {batch for batch, _ in sites} == {f"R{number}" for number in range(1, 10)}
    assert {placement for _, placement in sites} == {"cool night", "warm night"}
    assert {age for _, curing, _, age in cells if curing == "site"} == {6.0, 24.0, 72.0}


def test_runway_panels_keep_one_wild_break() -> None:
    rows = _rows(ROOT / "scenarios/runway-panels/breaks.csv")
    cells: dict[tuple[str, ...], list[float]] = {}
    for row in rows:
        key = (row["batch"], row["curing"], row["placement"], row["age_h"])
        cells.setdefault(key, []).append(float(row["strength_mpa"]))
    ranges = {key: (max(cell) - min(cell)) / np.mean(cell) for key, cell in cells.items()}
    assert max(ranges, key=lambda key: ranges[key]) == ("R8", "standard", "", "168")


@pytest.mark.parametrize(
    "folder", ["scenarios/runway-panels", "scenarios/tunnel-segments", "scenarios/sleepers", "planner/starter"]
)
def test_every_break_has_a_temperature_record_that_covers_it(folder: str) -> None:
    last_h: dict[tuple[str, str, str], float] = {}
    for row in _rows(ROOT / folder / "temperatures.csv"):
        key = (row["batch"], row["curing"], row["placement"])
        elapsed_h = float(row["elapsed_h"])
        assert elapsed_h > last_h.get(key, -1.0), "readings must rise"
        last_h[key] = elapsed_h
    for row in _rows(ROOT / folder / "breaks.csv"):
        key = (row["batch"], row["curing"], row["placement"])
        assert key in last_h
        if row["curing"] == "site":
            assert float(row["age_h"]) <= last_h[key]
        else:
            assert last_h[key] == 168.0  # after 7 d the plan's curing temperature goes on


def test_site_concrete_of_runway_panels_went_far_from_20_c_on_both_sides() -> None:
    rows = _rows(ROOT / "scenarios/runway-panels/temperatures.csv")
    site_c = [float(row["temperature_c"]) for row in rows if row["curing"] == "site"]
    assert 5.0 <= min(site_c) <= 10.0
    assert 30.0 <= max(site_c) <= 36.0


@pytest.mark.parametrize("name", PLANS)
def test_plan_is_consistent_with_its_tables(name: str) -> None:
    plan = _plan(name)
    choices, prior = plan["choices"], plan["prior"]
    candidates = {_hours(age) for age in choices["ages"]}
    assert all(_hours(age) > plan["mix"]["final_set_h"] for age in choices["ages"])
    assert len(candidates) == len(choices["ages"]) >= choices["most_ages"] >= choices["fewest_ages"]
    assert choices["fewest_ages"] * choices["specimens_per_age"][0] <= plan["budget"]["specimens"]
    if "published" in prior:
        assert "breaks" not in prior
        return
    folder = (ROOT / name).parent
    assert (folder / prior["temperatures"]).is_file()
    rows = _rows(folder / prior["breaks"])
    broken = {float(row["age_h"]) for row in rows}
    assert candidates == broken or (name.endswith("sparse.toml") and candidates > broken)
    for schedule in plan.get("compare", {}).get("schedules", []):
        assert {_hours(part.rsplit(" ", 1)[0]) for part in schedule.split(", ")} <= candidates


def test_every_plan_opens_with_a_note_on_what_it_is() -> None:
    for name in PLANS:
        lines = (ROOT / name).read_text(encoding="utf-8").splitlines()
        note = [line for line in lines[: lines.index("")] if line.startswith("#")]
        assert len(note) >= 4, name


@pytest.mark.parametrize("name", SCENARIOS)
def test_any_seed_and_any_number_of_batches_can_be_written(tmp_path: Path, name: str) -> None:
    programme = write_programme(tmp_path, name, 5, 3)
    rows = _rows(tmp_path / "breaks.csv")
    assert len({row["batch"] for row in rows}) == 3
    assert [float(row["strength_mpa"]) for row in rows] == [row.strength_mpa for row in programme.breaks]
    assert len(_rows(tmp_path / "temperatures.csv")) == len(programme.readings)


@pytest.mark.parametrize("name", PLANS)
def test_no_plan_here_warns_of_its_own_prices(name: str) -> None:
    assert "plan-value" not in {caution.code for caution in load_plan(ROOT / name).records.cautions}
