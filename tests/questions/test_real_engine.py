"""Price, minimum and several trial batches by their commands, through the engine itself, on the starter cut down."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from planner.cli.main import main
from planner.starter import STARTER

TARGETS = 'ages = ["16 h", "3 d"]'
CUT = {
    "most_ages = 6": "most_ages = 4",
    "specimens_per_age = [2, 3]": "specimens_per_age = [2, 2]",
    "specimens = 18": "specimens = 24",
}
# Breaking at night is dear and a specimen cheap, so that money and specimens order the schedules differently.
PRICES = """
[costs]
currency = "EUR"
specimen = 4
break = 3
visit = 90
visit_outside_hours = 400
[laboratory]
open = "07:00-17:00"
days = "Mon-Fri"
time_zone = "Europe/Oslo"
[programme]
trial_batches = {trial_batches}
"""

POURS = '[pours]\nearly_ages = ["12 h", "1 d"]\nspecimens_per_age = [1, 2]\nmost_specimens = 3\nnumber = 40\n'
POUR_BREAK = 4 + 3  # of the prices above: making and breaking a specimen


@pytest.fixture
def asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    for name in ("breaks.csv", "temperatures.csv"):
        (tmp_path / name).write_bytes((STARTER / name).read_bytes())
    text = (STARTER / "plan.toml").read_text(encoding="utf-8")
    for old, new in CUT.items():
        assert old in text
        text = text.replace(old, new)

    def ask(command: str, *, targets: str = TARGETS, trial_batches: object = 1, more: str = "") -> Any:
        assert TARGETS in text
        plan = tmp_path / "plan.toml"
        found = text.replace(TARGETS, targets) + PRICES.format(trial_batches=trial_batches) + more
        plan.write_text(found, encoding="utf-8")
        capsys.readouterr()
        with pytest.raises(SystemExit) as left:
            main([command, str(plan), "--draws", "10", "--workers", "1", "--json"])
        caught = capsys.readouterr()
        assert left.value.code == 0, caught.err
        return json.loads(caught.out)

    return ask


def test_each_target_of_two_has_the_least_of_a_plan_that_asks_it_alone(asked) -> None:
    both = asked("minimum")
    alone = [asked("minimum", targets=f'ages = ["{age}"]')["together"] for age in ("16 h", "3 d")]
    for target, wanted in zip(both["targets"], alone, strict=True):
        named = {"customary"}  # beside all targets together alone
        assert {key: value for key, value in target.items() if key not in named} == {
            key: value for key, value in wanted.items() if key not in named
        }
    assert [target["age_h"] for target in both["targets"]] == [16.0, 72.0]
    first, second = (target["nearest"] or target["fewest"] for target in alone)
    assert first["next_batch"]["rms"] != second["next_batch"]["rms"]
    assert both["together"] not in alone


def test_two_frontiers_each_by_its_own_price(asked) -> None:
    found = asked("price")
    by_specimens, by_cost = found["frontier_by_specimens"], found["frontier_by_cost"]
    assert len(by_specimens) > 1
    assert len(by_cost) > 1
    assert all(point["limit"] == point["n_specimens"] for point in by_specimens)
    assert all(point["limit"] == pytest.approx(point["cost"]) for point in by_cost)
    for frontier in (by_specimens, by_cost):
        limits, errors = ([point[name] for point in frontier] for name in ("limit", "rms"))
        assert limits == sorted(set(limits))
        assert errors == sorted(errors, reverse=True)
    cheapest = min(by_cost, key=lambda point: point["cost"])
    assert cheapest["cost"] <= min(point["cost"] for point in by_specimens)
    schedules = [
        {(tuple(p["ages_h"]), tuple(p["specimens"])) for p in frontier} for frontier in (by_specimens, by_cost)
    ]
    assert schedules[0] != schedules[1]


def test_a_programme_reads_alike_in_a_range_of_trial_batches_and_alone(asked) -> None:
    def key(item: Any) -> tuple[Any, ...]:
        names = ("n_trial_batches", "ages_h", "specimens", "curve", "weighting", "maturity")
        return tuple(json.dumps(item[name]) for name in names)

    ranged = {key(item): item for item in asked("recommend", trial_batches=[1, 3])["programmes"]}
    assert {item["n_trial_batches"] for item in ranged.values()} == {1, 2, 3}
    two = asked("recommend", trial_batches=2)
    assert two["recommended_programme"]["n_trial_batches"] == 2
    common = [item for item in two["programmes"] if key(item) in ranged]
    assert common
    for item in common:
        same = ranged[key(item)]
        assert item["next_batch"]["rms"] == same["next_batch"]["rms"]
        assert item["own_batch"] == same["own_batch"]
        assert item["n_specimens"] == same["n_specimens"] == item["n_trial_batches"] * sum(item["specimens"])
        assert item["cost"] == pytest.approx(same["cost"])


def test_early_breaks_of_the_command_are_those_of_a_plan_that_asks_for_the_same_alone(asked) -> None:
    """Of a range of trial batches each number as if it were asked alone; money counted by hand."""
    found = asked("recommend", trial_batches=[1, 2], more=POURS)["early_breaks"]
    assert [len(rows) > 1 for rows in found["by_trials"]] == [True] * 3  # none, one, two
    assert len({json.dumps(rows) for rows in found["by_trials"]}) == 3
    alone = asked("recommend", trial_batches=2, more=POURS)["early_breaks"]
    figures = ("ages_h", "specimens", "reading", "rms", "within_tolerance", "safe_reading_factor")
    two = [[row[name] for name in figures] for row in found["by_trials"][2]]
    assert two == [[row[name] for name in figures] for row in alone["by_trials"][-1]]
    assert found["rows"][0]["ages_h"] == []
    for row in found["rows"]:
        assert row["cost_per_pour"] == POUR_BREAK * sum(row["specimens"])
        assert row["cost_of_pours"] == 40 * row["cost_per_pour"]
    assert found["rows"][0]["rms"] > found["rows"][-1]["rms"]
