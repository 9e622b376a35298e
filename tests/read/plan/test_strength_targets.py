"""Strengths that a site waits for, in the plan: units, order, weights, and what cannot be read."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from planner.read import load_plan
from planner.read.door import check_plan

ROWS = "batch,curing,age_h,strength_mpa\n" + "".join(
    f"{batch},standard,{age},{level * strength}\n"
    for batch, level in (("B1", 1.0), ("B2", 1.1), ("B3", 0.9))
    for age, strength in ((6, 10.0), (12, 20.0), (24, 30.0), (72, 40.0))
    for _ in range(2)
)
PLAN = """
[prior]
breaks = "breaks.csv"
standard_curing_c = 20
[target]
{target}
tolerance = "10 %"
[choices]
ages = ["6 h", "12 h", "1 d", "3 d"]
fewest_ages = 3
most_ages = 4
specimens_per_age = [2, 3]
[budget]
specimens = 12
"""


def write(folder: Path, target: str, rows: str = ROWS) -> Path:
    (folder / "breaks.csv").write_text(rows, encoding="utf-8")
    path = folder / "plan.toml"
    path.write_text(PLAN.replace("{target}", target), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("given", "wanted_mpa"), [("25 MPa", 25.0), ("25,0 mpa", 25.0), ("3 ksi", 20.684271879), ("3000 psi", 20.684271879)]
)
def test_a_strength_is_read_with_its_unit(given, wanted_mpa, tmp_path):
    target = load_plan(write(tmp_path, f'strengths = ["{given}"]')).settings.target
    assert target.strengths_mpa == pytest.approx((wanted_mpa,))


def test_ages_and_strengths_stand_in_order_of_age_with_their_weights(tmp_path):
    text = 'ages = ["3 d", "6 h"]\nstrengths = ["25 MPa"]\nweights = [1, 2, 5]'
    target = load_plan(write(tmp_path, text)).settings.target
    assert target.waits_mpa == (None, 25.0, None)
    assert target.ages_h[0::2] == (6.0, 72.0)
    middle = PchipInterpolator(np.log([6.0, 12.0, 24.0, 72.0]), [10.0, 20.0, 30.0, 40.0])  # of three batches
    assert target.ages_h[1] == pytest.approx(np.exp(middle.solve(25.0, extrapolate=False)[0]), rel=0.005)
    assert target.weights == (2.0, 5.0, 1.0)


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ("strengths = [25]", 'Given 25 without a unit. Write "25 MPa" or "25 psi"'),
        ('strengths = ["25"]', 'which is no strength. Write it like "20 MPa" or "3000 psi"'),
        ('strengths = ["25 kN"]', "which is no strength"),
        ('strengths = ["-5 MPa"]', "above 0 and at most 300 MPa"),
        ('strengths = ["301 MPa"]', "above 0 and at most 300 MPa"),
        ("strengths = []", "The list is empty"),
        ('strengths = ["20 MPa", "20 MPa"]', "stands twice"),
        ('strengths = "20 MPa"', "in brackets"),
        ("combine = \"mean\"", "Neither ages nor strengths are given"),
        ('strengths = ["90 MPa"]', "90 MPa cannot be predicted. No batch of the records was ever that strong: the"),
        ('strengths = ["5 MPa"]', "5 MPa cannot be predicted. No batch was broken on both sides of it: the weakest"),
        ('strengths = ["25 MPa"]\nweights = [1, 2]', "There are 2 weights for 1 target ages and strengths"),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_with_what_to_do(target, words, tmp_path):
    plan, problems = check_plan(write(tmp_path, target))
    assert plan is None
    (problem,) = [item for item in problems if words in item.text]
    assert problem.column.startswith("target.")


def test_every_strength_beyond_the_records_is_named_at_once(tmp_path):
    _, problems = check_plan(write(tmp_path, 'strengths = ["90 MPa", "5 MPa", "25 MPa"]'))
    assert [item.text.split(" cannot")[0] for item in problems] == ["90 MPa", "5 MPa"]


def test_the_strongest_mean_of_the_records_is_named(tmp_path):
    _, (problem,) = check_plan(write(tmp_path, 'strengths = ["90 MPa"]'))
    assert "the strongest mean is 44.0 MPa" in problem.text


def test_strengths_need_broken_batches(tmp_path):
    path = write(tmp_path, 'strengths = ["25 MPa"]')
    text = path.read_text(encoding="utf-8")
    text = text.replace('breaks = "breaks.csv"', 'published = "EN 1992-1-1 N"\nstrength_28d_mpa = 40')
    path.write_text(text, encoding="utf-8")
    _, problems = check_plan(path)
    assert any("needs broken batches" in item.text for item in problems)
