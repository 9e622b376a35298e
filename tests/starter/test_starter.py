"""The starter, its full form and its schema: one source, every key with a comment, and all of it can be used."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from planner.read import check_plan, load_plan
from planner.read.plan.plan_tables import TABLES
from planner.starter import PLAN, STARTER, introduction, put_starter, schema_text, starter_files
from planner.starter.plan_text import plan_text

KEYS = [(table, field.alias or name) for table, model in TABLES.items() for name, field in model.model_fields.items()]
SCHEMA: dict[str, Any] = json.loads(schema_text())
VALIDATOR = Draft7Validator(SCHEMA)


def example_of(table: str, key: str) -> Any:
    (field,) = (field for name, field in TABLES[table].model_fields.items() if key in (name, field.alias))
    (example,) = field.examples or ()
    return example


def least_of(table: str) -> dict[str, Any]:
    """The keys without which a table is refused."""
    return {name: example_of(table, name) for name, field in TABLES[table].model_fields.items() if field.is_required()}


def full_text() -> str:
    return starter_files(is_full=True)[PLAN].decode("utf-8")


def test_the_starter_is_what_its_values_and_the_comments_of_the_keys_make() -> None:
    text = (STARTER / PLAN).read_text(encoding="utf-8")
    assert text == plan_text(tomllib.loads(text), introduction=introduction())
    assert text.startswith("#:schema ./plan.schema.json\n")
    assert "The records are invented" in text


@pytest.mark.parametrize("is_full", [False, True])
def test_the_five_lines_that_everybody_changes_are_marked(is_full: bool) -> None:
    text = starter_files(is_full=is_full)[PLAN].decode("utf-8")
    marked = [line.split(" = ")[0] for line in text.splitlines() if "  # YOURS: " in line]
    assert marked == ["title", "name", "ages", "ages", "specimens"]
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert "change the five lines the plan marks" in readme
    assert "the five lines marked YOURS" in introduction()


def test_the_full_plan_asks_the_same_question(tmp_path: Path) -> None:
    written = put_starter(tmp_path / "full", is_full=True)
    assert {path.name for path in written} == {PLAN, "breaks.csv", "temperatures.csv", "plan.schema.json"}
    assert load_plan(tmp_path / "full" / PLAN).settings == load_plan(STARTER / PLAN).settings


@pytest.mark.parametrize(("table", "key"), KEYS, ids=lambda word: word)
def test_every_key_stands_in_the_full_plan_with_a_comment(table: str, key: str) -> None:
    lines = full_text().splitlines()
    begins = next(place for place, line in enumerate(lines) if line.lstrip("#").startswith(f"[{table}]"))
    ends = next((n for n in range(begins + 1, len(lines)) if lines[n].lstrip("#").startswith("[")), len(lines))
    place = next(n for n in range(begins + 1, ends) if lines[n].lstrip("#").startswith(f"{key} = "))
    beside, _, comment = lines[place].partition("  # ")
    comment = comment or lines[place - 1].removeprefix("# ").removesuffix(":")
    assert len(comment) > 5
    assert max(map(len, lines)) < 120
    name, _, value = beside.strip().lstrip("#").partition(" = ")
    assert tomllib.loads(f"x = {value}")
    assert name == key


@pytest.mark.parametrize(("table", "key"), KEYS, ids=lambda word: word)
def test_every_example_is_read_and_passes_the_schema(table: str, key: str) -> None:
    given = least_of(table) | {key: example_of(table, key)}
    TABLES[table].model_validate(given)
    VALIDATOR.evolve(schema=SCHEMA["properties"][table]).validate(given)


def test_every_scenario_passes_the_schema() -> None:
    plans = sorted(Path("scenarios").rglob("*.toml"))
    assert len(plans) >= 4
    for path in (*plans, STARTER / PLAN):
        VALIDATOR.validate(tomllib.loads(path.read_text(encoding="utf-8")))


# (table, key, value, whether the schema lets it pass): what a reader takes must pass; what is plainly of another
# kind must not, so that an editor marks it.
GIVEN = [
    ("target", "ages", ["6 h", "1,5 d", "90 min"], True),
    ("target", "ages", [28], False),
    ("target", "ages", "6 h", False),
    ("target", "tolerance", 0.1, True),
    ("target", "tolerance", "7,5 %", True),
    ("target", "tolerance", "ten", False),
    ("target", "combine", "median", False),
    ("target", "weights", [1, 2.5], True),
    ("target", "weights", ["1"], False),
    ("prior", "within_test_cv", {"6 h": "6 %", "28 d": 0.03}, True),
    ("prior", "within_test_cv", {}, False),
    ("prior", "standard_curing_c", "68 F", True),
    ("prior", "standard_curing_c", "warm", False),
    ("prior", "hold_out", "specimen", False),
    ("choices", "specimens_per_age", [2, 4], True),
    ("choices", "specimens_per_age", [2], False),
    ("choices", "specimens_per_age", [0, 2], False),
    ("choices", "fewest_ages", 2.5, False),
    ("choices", "minimum_gap", "0 h", True),
    ("costs", "break", 12.5, True),
    ("costs", "break", -1, False),
    ("costs", "break_one", 12.5, False),
    ("laboratory", "days", ["Mon", "Wed-Fri"], True),
    ("laboratory", "days", "Mon-Fri, Sun", True),
    ("laboratory", "days", 5, False),
    ("laboratory", "open", "round the clock", True),
    ("laboratory", "opens", "07:00", False),
    ("temperature_file", "columns", {"S1": "B1/site/north"}, True),
    ("temperature_file", "columns", {"S1": 1}, False),
    ("programme", "spares", "10 %", True),
    ("site", "mean_concrete_temperature_c", ["54 F", 35], True),
    ("site", "mean_concrete_temperature_c", [12], False),
]


@pytest.mark.parametrize(("table", "key", "value", "passes"), GIVEN)
def test_the_schema_lets_pass_what_is_read_and_marks_what_is_of_another_kind(
    table: str, key: str, value: Any, passes: bool
) -> None:
    given = least_of(table) | {key: value}
    assert VALIDATOR.evolve(schema=SCHEMA["properties"][table]).is_valid(given) == passes
    if passes:
        TABLES[table].model_validate(given)
    else:
        with pytest.raises(ValueError, match=r"\S"):
            TABLES[table].model_validate(given)


def test_a_table_that_is_missing_or_unknown_is_marked() -> None:
    values = tomllib.loads((STARTER / PLAN).read_text(encoding="utf-8"))
    assert VALIDATOR.is_valid(values)
    for table in ("prior", "target", "choices", "budget"):
        assert not VALIDATOR.is_valid({name: value for name, value in values.items() if name != table})
    assert not VALIDATOR.is_valid(values | {"targets": {}})


def test_the_commands_write_and_print_it(tmp_path: Path) -> None:
    def run(*words: str) -> subprocess.CompletedProcess[str]:
        program = (sys.executable, "-m", "planner.cli.main", *words)
        return subprocess.run(program, capture_output=True, text=True, check=False)

    done = run("start", str(tmp_path / "mine"), "--full")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "mine" / PLAN).read_text(encoding="utf-8") == full_text()
    assert json.loads((tmp_path / "mine" / "plan.schema.json").read_text(encoding="utf-8")) == SCHEMA
    assert run("start", "--schema").stdout == schema_text()
    assert run("start").returncode == 2
    plan, problems = check_plan(tmp_path / "mine" / PLAN)
    assert plan is not None, problems
