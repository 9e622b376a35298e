"""The table of later pours, read from a plan."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.read import load_plan
from planner.terms.plan.early_breaks import Pours
from planner.terms.problems import InputError
from tests.statistics.runway import FOLDER

GOOD = """
[pours]
early_ages = ["8 h", "4 h"]
specimens_per_age = [1, 3]
most_specimens = 5
curing = "standard"
number = 40
"""


def plan_with(folder: Path, table: str, *, costs: str = "") -> Path:
    """The demo plan with its own tables and another table of pours."""
    text = (FOLDER / "plan.toml").read_text(encoding="utf-8")
    text = re.sub(r"\n\[pours\].*?(?=\n\[)", "", text, flags=re.DOTALL)
    for name in ("breaks.csv", "temperatures.csv"):
        (folder / name).write_bytes((FOLDER / name).read_bytes())
    if costs:
        text = text.replace("[costs]\n", f"[costs]\n{costs}\n")
    path = folder / "plan.toml"
    path.write_text(text + table, encoding="utf-8")
    return path


def test_every_key_is_read(tmp_path: Path) -> None:
    settings = load_plan(plan_with(tmp_path, GOOD, costs="pour_break = 30")).settings
    assert settings.pours == Pours(
        early_ages_h=(4.0, 8.0), specimens_per_age=(1, 3), most_specimens=5, number=40
    )  # fmt: skip
    assert settings.costs is not None
    assert settings.costs.pour_break == 30.0


def test_what_is_left_out_has_defaults(tmp_path: Path) -> None:
    settings = load_plan(plan_with(tmp_path, '\n[pours]\nearly_ages = ["4 h"]\n')).settings
    assert settings.pours == Pours(
        early_ages_h=(4.0,), specimens_per_age=(1, 2), most_specimens=4, number=None
    )  # fmt: skip
    assert settings.costs is not None
    assert settings.costs.pour_break is None
    assert load_plan(plan_with(tmp_path, "")).settings.pours is None
    on_site = load_plan(plan_with(tmp_path, '\n[pours]\nearly_ages = ["4 h"]\ncuring = "site"\n')).settings.pours
    assert on_site is not None
    assert on_site.curing == "site"


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ('early_ages = ["4 h", "1 d"]', r"1 d is not before the last target age \(1 d\)"),
        ('early_ages = ["2 d"]', "2 d is not before the last target age"),
        ('early_ages = ["4 h"]\nspecimens_per_age = [3, 4]\nmost_specimens = 2', "at least the 3 of one age"),
        ('early_ages = ["4 h"]\nmost_specimens = 13', "at most 12"),
        ('early_ages = ["4 h"]\ncuring = "heat"', r"pours\.curing|standard"),
        ('early_ages = ["3 h", "4 h", "5 h", "6 h", "7 h", "8 h", "9 h"]', "7 early ages, more than 6"),
        ('early_ages = ["4 h"]\npours = 4', r"pours\.pours"),
    ],
)
def test_refusals(tmp_path: Path, table: str, says: str) -> None:
    with pytest.raises(InputError, match=says):
        load_plan(plan_with(tmp_path, f"\n[pours]\n{table}\n"))
