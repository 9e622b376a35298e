"""Plans: what every key means, what is refused and in which words."""

from __future__ import annotations

import datetime as dt
import hashlib
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from planner.read import check_plan, load_plan, parse_schedule
from planner.terms.plan.settings import CURVE_NAMES, Costs, MaturityGrid, ProgrammeSettings
from planner.terms.problems import InputError
from planner.terms.schedule import Schedule
from tests.read.invented_study import PLAN, only_problem, plan_text, problems_of, write_study

FULL = """
title = "Overnight panels"
[mix]
name = "panel mix"
final_set_h = 1.5
[prior]
breaks = "breaks.csv"
standard_curing_c = 20
within_test_cv = {"28 d" = "3 %", "6 h" = 0.06}
between_batch_cv = "7 %"
hold_out = "mix"
geometry = "Cylinder 150 × 300 mm"
[target]
ages = ["1 d", "6 h"]
tolerance = "10 %"
assurance = 0.8
weights = [1, 3]
combine = "worst"
over_prediction_weight = 2
[site]
mean_concrete_temperature_c = [12, 35]
[choices]
ages = ["28 d", "4 h", "6 h", "0.5 d", "3 days"]
fewest_ages = 3
most_ages = 5
required_ages = ["28 d"]
specimens_per_age = [2, 4]
minimum_gap = "90 min"
least_strength_mpa = 3
most_visits = 5
[budget]
specimens = 24
cost = 6000
latest_age = "28 d"
[curves]
families = ["Hyperbolic", "piecewise linear in log age"]
[maturity]
equivalent_age_q_k = [4000, 5000]
reference_c = 23
datum_c = [-10, 0]
[compare]
schedules = ["28 d x3, 6 h x2", "1 d x3, 3 d x3"]
[programme]
instrumented = 3
spares = "10 %"
companions_per_check = 3
checks = 4
trial_batches = 2
[costs]
currency = "EUR"
specimen = 18
break = 25
visit_outside_hours = 240
[laboratory]
open = "07:00-17:30"
days = "Sat-Wed"
closed = ["2027-03-19", 2027-03-20]
time_zone = "Europe/Oslo"
age_tolerances = "EN 196-1"
minutes_per_break = 12.5
machines = 2
form_removal = "16 h"
"""


def test_every_key_arrives_in_canonical_units(tmp_path: Path) -> None:
    settings = load_plan(write_study(tmp_path, plan=FULL)).settings
    assert settings.title == "Overnight panels"
    assert (settings.mix_name, settings.final_set_h) == ("panel mix", 1.5)
    assert settings.prior.within_test_cv is None
    assert settings.prior.within_test_cv_by_age == ((6.0, 0.06), (672.0, 0.03))
    assert settings.prior.between_batch_cv == pytest.approx(0.07, abs=1e-15)
    assert (settings.prior.hold_out, settings.prior.standard_curing_c) == ("mix", 20.0)
    assert settings.target.ages_h == (6.0, 24.0)
    assert settings.target.weights == (3.0, 1.0)  # they follow their ages
    assert (settings.target.combine, settings.target.assurance) == ("worst", 0.8)
    assert settings.target.over_prediction_weight == 2.0
    assert settings.site_temperature_c == (12.0, 35.0)
    assert settings.choices.ages_h == (4.0, 6.0, 12.0, 72.0, 672.0)
    assert settings.choices.minimum_gap_h == 1.5
    assert settings.choices.most_visits == 5
    assert settings.budget.cost == 6000.0
    assert settings.budget.latest_age_h == 672.0
    assert settings.curves == ("hyperbolic", "piecewise linear in log age")
    assert settings.maturity == MaturityGrid(
        equivalent_age_q_k=(4000.0, 5000.0), datum_c=(-10.0, 0.0), reference_c=23.0
    )
    assert settings.compare == (Schedule((6.0, 672.0), (2, 3)), Schedule((24.0, 72.0), (3, 3)))
    assert settings.programme == ProgrammeSettings(
        instrumented=3, spares=0.1, companions_per_check=3, n_checks=4, trial_batches=2, most_trial_batches=2
    )
    assert settings.costs is not None
    assert settings.costs.litres_each == pytest.approx(
        1.1 * math.pi * 0.75**2 * 3.0
    )  # a cylinder in dm, a tenth of waste
    assert replace(settings.costs, litres_each=None) == Costs(
        currency="EUR", specimen=18.0, break_one=25.0, visit_outside_hours=240.0
    )
    laboratory = settings.laboratory
    assert laboratory is not None
    assert (laboratory.opens, laboratory.closes) == (dt.time(7), dt.time(17, 30))
    assert laboratory.days == (0, 1, 2, 5, 6)
    assert laboratory.closed == (dt.date(2027, 3, 19), dt.date(2027, 3, 20))
    assert laboratory.form_removal_h == 16.0
    assert laboratory.age_tolerances == "EN 196-1"


def test_what_a_plan_leaves_out_is_no_limit(tmp_path: Path) -> None:
    settings = load_plan(write_study(tmp_path)).settings
    assert settings.target.assurance == 0.90
    assert settings.target.target_weights == (1.0,)
    assert settings.target.combine == "mean"
    assert settings.choices.minimum_gap_h == 0.0
    assert settings.choices.most_visits is None
    assert settings.budget.cost is None
    assert settings.budget.latest_age_h is None
    assert settings.curves == CURVE_NAMES
    assert settings.maturity == MaturityGrid()
    assert (settings.programme, settings.costs, settings.laboratory) == (None, None, None)


def test_a_plan_that_names_one_maturity_method_wants_that_one_only(tmp_path: Path) -> None:
    plan = plan_text(maturity="datum_c = [0]")
    grid = load_plan(write_study(tmp_path, plan=plan)).settings.maturity
    assert grid.equivalent_age_q_k == ()
    assert grid.datum_c == (0.0,)


def test_everything_read_is_named_with_its_digest(tmp_path: Path) -> None:
    path = write_study(tmp_path)
    inputs = dict(load_plan(path).inputs)
    assert list(inputs) == ["plan.toml", "breaks.csv"]
    for name, digest in inputs.items():
        assert digest == "sha256:" + hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()


def test_published_growth_needs_no_breaks(tmp_path: Path) -> None:
    plan = plan_text(prior='published = "EN 1992-1-1 class R"\nstrength_28d_mpa = 60')
    loaded = load_plan(write_study(tmp_path, plan=plan))
    assert loaded.records.breaks == ()
    assert loaded.settings.prior.strength_28d_mpa == 60.0


def test_temperatures_may_be_given_in_fahrenheit(tmp_path: Path) -> None:
    settings = load_plan(write_study(tmp_path, prior='standard_curing_c = "68 F"')).settings
    assert settings.prior.standard_curing_c == pytest.approx(20.0, abs=1e-12)


def test_all_faults_of_all_files_come_together(tmp_path: Path) -> None:
    plan = plan_text(
        prior='breaks = "breaks.csv"\ntemperatures = "temperatures.csv"\nhold_up = 1',
        target='ages = ["12 h"]\ntolerance = 10',
        budget="specimens = 0",
        choices=PLAN["choices"].replace("fewest_ages = 3", "fewest_ages = 7"),
    )
    breaks = b"batch,curing,age_h,strength_mpa\nB1,standard,24,-3\nB1,moist,x,20\n"
    temperatures = b"batch,curing,elapsed_h,temperature_c\nB1,standard,0,20\nB1,standard,5,oops\n"
    path = write_study(tmp_path, plan=plan, breaks=breaks, temperatures=temperatures)
    where = {(problem.file, problem.row, problem.column) for problem in problems_of(path)}
    assert where == {
        ("plan.toml", None, "prior.hold_up"),
        ("plan.toml", None, "target.tolerance"),
        ("plan.toml", None, "budget.specimens"),
        ("plan.toml", None, "choices.fewest_ages"),
        ("breaks.csv", 2, "strength_mpa"),
        ("breaks.csv", 3, "curing"),
        ("breaks.csv", 3, "age_h"),
        ("temperatures.csv", 3, "temperature_c"),
    }


def test_the_exception_carries_what_the_check_lists(tmp_path: Path) -> None:
    path = write_study(tmp_path, plan=plan_text(budget="specimens = 0\ncosts = 1"))
    with pytest.raises(InputError, match="positive whole number") as caught:
        load_plan(path)
    assert caught.value.problems == check_plan(path)[1]
    assert len(caught.value.problems) == 2


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"title = \n[a]", "This is not TOML.*line 1"),
        (b"title = \xff\xfe", "no UTF-8 text"),
        (b"a = " + b"[" * 20_000, "nested too deeply"),
        (b"a = " + b"9" * 10_000, "This is not TOML"),
        (b"title = 'T'\n" + b".".join([b"a"] * 20_000) + b" = 1", "Line 2 has more than 1,000 dots"),
        (b"#" * 5_000_001, "The plan has 5 MB"),
    ],
)
def test_what_is_no_plan_is_said_plainly(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(content)
    assert re.search(message, only_problem(path).text)


def test_a_byte_order_mark_is_harmless(tmp_path: Path) -> None:
    path = write_study(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert load_plan(path).settings.budget.specimens == 12


@pytest.mark.parametrize(
    ("name", "message"),
    [("absent.toml", "no such file"), ("folder.toml", "This is a folder"), ("plan.txt", "Allowed: .toml")],
)
def test_a_plan_that_cannot_be_opened(tmp_path: Path, name: str, message: str) -> None:
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "plan.txt").write_text("")
    assert message in only_problem(tmp_path / name).text


@pytest.mark.parametrize(
    ("text", "schedule"),
    [
        ("6 h x3, 1 d x3", Schedule((6.0, 24.0), (3, 3))),
        ("28 d x 2,90min×3", Schedule((1.5, 672.0), (3, 2))),
        ("1 d X1; 2 d *2", Schedule((24.0, 48.0), (1, 2))),
    ],
)
def test_schedules_are_read_as_people_write_them(text: str, schedule: Schedule) -> None:
    assert parse_schedule(text) == schedule


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "has a part"),
        ("1 d", 'has a part "1 d"'),
        ("1 d x0", "at least one specimen"),
        ("0 d x1", "above 0 h"),
        ("x3", "has a part"),
        ("1 x3", 'Given "1", which is no duration'),
        ("24 h x3, 1 d x2", "names the age 1 d twice"),
        ("1 d x3,,", 'has a part ""'),
        ("1 d x1.5", "has a part"),
    ],
)
def test_schedules_that_cannot_be_read(text: str, message: str) -> None:
    with pytest.raises(InputError, match=re.escape(message)):
        parse_schedule(text)
