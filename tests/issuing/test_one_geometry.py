"""After casting nothing is converted, so that a curve of cubes is never read as one of cylinders."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.issuing import issue_curve
from planner.pipeline import recommend
from planner.read import load_plan
from planner.records_issuing import check_relied_on
from planner.terms.problems import InputError
from planner.terms.records import GivenRecords

SLEEPERS = Path(__file__).resolve().parents[2] / "scenarios" / "sleepers" / "plan.toml"


def test_a_plan_of_several_geometries_issues_nothing() -> None:
    plan = load_plan(SLEEPERS)
    trial = GivenRecords(file="trial.csv", records=plan.records)
    with pytest.raises(InputError, match="not converted between geometries"):
        issue_curve(plan, trial, None)  # type: ignore[arg-type]
    with pytest.raises(InputError, match=r"select one with \[prior\] geometry"):
        recommend(plan, trial=trial)
    with pytest.raises(InputError, match="engineer must agree"):
        check_relied_on(plan)
