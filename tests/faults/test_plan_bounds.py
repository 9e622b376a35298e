"""Values that no plan can mean: one message with key, value and what is allowed, before anything is computed."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from planner.choices import choice_set
from planner.read import load_plan
from planner.steps.allowed_choices import rank_prices
from planner.terms.plan.settings import Budget, ChoiceLimits, Costs, Settings, Target
from tests.read.invented_study import PLAN, only_problem, plan_text, write_study

TARGET, CHOICES = PLAN["target"], PLAN["choices"]
DIGITS = "9" * 400
COSTS = 'currency = "EUR"\n'
FORTY = ", ".join(f'"{n} h"' for n in range(1, 41))

REFUSED = [
    ("target", TARGET.replace('"10 %"', "1e-160"), "target.tolerance", "so near to nothing it is a slip"),
    ("target", TARGET.replace('"10 %"', '"0.005 %"'), "target.tolerance", "no testing machine tells 0.01 % "),
    ("target", TARGET + "\nassurance = 1e-9", "target.assurance", "slip"),
    ("target", TARGET + '\nassurance = "0.9 %"', "target.assurance", "from 50 % to 99.9 %"),
    ("target", TARGET + "\nassurance = 0.9999", "target.assurance", "from 50 % to 99.9 %"),
    ("target", TARGET + "\nover_prediction_weight = 1e308", "target.over_prediction_weight", "larger than any"),
    ("target", TARGET + "\nover_prediction_weight = 2e6", "target.over_prediction_weight", "at most 1,000,000"),
    ("target", TARGET + "\nweights = [1e308]", "target.weights", "larger than any price or quantity"),
    ("target", TARGET.replace('"12 h"', '"1e9 d"'), "target.ages", "no duration"),
    ("target", TARGET.replace('"12 h"', '"999999999999 d"'), "target.ages", "longer than any concrete"),
    ("target", TARGET.replace('"12 h"', DIGITS), "target.ages", "without a unit"),
    ("budget", f"specimens = {DIGITS}", "budget.specimens", "too large for a count"),
    ("budget", "specimens = 100001", "budget.specimens", "at most 100,000 can be worked with"),
    ("budget", 'specimens = 12\nlatest_age = "1000000000 d"', "budget.latest_age", "longer than any concrete"),
    ("choices", CHOICES.replace("[2, 4]", "[1, 100000]"), "choices.specimens_per_age", "at most 100"),
    ("choices", CHOICES.replace("[2, 4]", f"[1, {DIGITS}]"), "choices.specimens_per_age", "too large"),
    ("choices", CHOICES.replace("= 3", f"= {DIGITS}"), "choices.fewest_ages", "too large for a count"),
    ("choices", CHOICES + "\nleast_strength_mpa = 1e308", "choices.least_strength_mpa", "larger than any"),
    ("choices", CHOICES + "\nleast_strength_mpa = 500", "choices.least_strength_mpa", "from 0 to 400 MPa"),
    ("choices", CHOICES + f"\nmost_visits = {DIGITS}", "choices.most_visits", "too large for a count"),
    ("mix", "final_set_h = 1e9", "mix.final_set_h", "from 0 to 1000"),
    ("programme", "trial_batches = 1000000", "programme.trial_batches", "from 1 to 5"),
    ("programme", f"checks = {DIGITS}", "programme.checks", "too large for a count"),
    ("programme", f"instrumented = {DIGITS}", "programme.instrumented", "too large for a count"),
    ("programme", "spares = 1e300", "programme.spares", "larger than any"),
    ("costs", COSTS + "specimen = 1e308", "costs.specimen", "larger than any price"),
    ("costs", COSTS + f"break = {DIGITS}", "costs.break", "not a finite number"),
    ("laboratory", "minutes_per_break = 1e308", "laboratory.minutes_per_break", "larger than any"),
    ("laboratory", "minutes_per_break = 2000", "laboratory.minutes_per_break", "from 0.1 to 1440 minutes"),
    ("laboratory", f"machines = {DIGITS}", "laboratory.machines", "too large for a count"),
    ("laboratory", 'form_removal = "99999999999999 d"', "laboratory.form_removal", "longer than any concrete"),
    ("maturity", f"reference_c = {DIGITS}", "maturity.reference_c", "not a finite number"),
    ("maturity", "equivalent_age_q_k = [1e300]", "maturity.equivalent_age_q_k", "larger than any"),
    ("site", "mean_concrete_temperature_c = [12, 1e300]", "site.mean_concrete_temperature_c", "larger than any"),
]  # fmt: skip


@pytest.mark.parametrize(("table", "text", "column", "said"), REFUSED, ids=range(len(REFUSED)))
def test_what_no_plan_can_mean_is_refused(tmp_path: Path, table: str, text: str, column: str, said: str) -> None:
    problem = only_problem(write_study(tmp_path, plan=plan_text(**{table: text})))
    assert problem.column == column
    assert said in problem.text
    assert len(problem.text) < 300


@pytest.mark.parametrize(
    ("table", "text"),
    [
        ("target", TARGET.replace('"10 %"', '"0.02 %"')),
        ("target", TARGET + '\nassurance = "50 %"'),
        ("target", TARGET + "\nover_prediction_weight = 1000000"),
        ("budget", "specimens = 100000"),
        ("programme", "trial_batches = 5"),
        ("laboratory", "minutes_per_break = 1440"),
        ("costs", COSTS + "specimen = 1e12"),
    ],
)
def test_what_may_just_be_meant_is_read(tmp_path: Path, table: str, text: str) -> None:
    assert load_plan(write_study(tmp_path, plan=plan_text(**{table: text}))).records.breaks


def forty_ages(folder: Path, prior: str = 'breaks = "breaks.csv"') -> Path:
    """Three batches broken at forty ages, every one of them offered with 1 to 40 specimens."""
    rows = ["batch,curing,age_h,strength_mpa"]
    rows += [f"B{batch},standard,{age},{10 + age / 2 + batch / 10}" for batch in range(3) for age in range(1, 41)]
    choices = f"ages = [{FORTY}]\nfewest_ages = 3\nmost_ages = 40\nspecimens_per_age = [1, 40]"
    plan = plan_text(prior=prior, choices=choices, budget="specimens = 1600", target='ages = ["36 h"]\ntolerance = 0.1')
    return write_study(folder, plan=plan, breaks="\n".join(rows).encode())


@pytest.mark.parametrize("prior", ['published = "EN 1992-1-1 class R"\nstrength_28d_mpa = 60', 'breaks = "breaks.csv"'])
def test_more_schedules_than_can_be_searched_are_refused_when_the_plan_is_read(tmp_path: Path, prior: str) -> None:
    problem = only_problem(forty_ages(tmp_path, prior))
    assert re.search(r"schedules of 40 ages, more than the 20,000,000 .* lower most_ages", problem.text)
    assert problem.column == "choices.ages"


def test_ages_that_no_batch_was_broken_at_do_not_count(tmp_path: Path) -> None:
    choices = f"ages = [{FORTY}]\nfewest_ages = 2\nmost_ages = 40\nspecimens_per_age = [1, 40]"
    assert load_plan(write_study(tmp_path, plan=plan_text(choices=choices))).settings.choices.most_ages == 40


def test_records_may_hold_more_ages_than_can_be_priced() -> None:
    ages_h = np.arange(1.0, 71.0)
    choices = choice_set(ages_h, [((0, 30, 69), (2, 2, 3)), ((5, 60), (3, 1))])
    settings = Settings(
        target=Target(ages_h=(36.0,), tolerance=0.1),
        choices=ChoiceLimits(ages_h=tuple(ages_h), fewest_ages=2, most_ages=3, specimens_per_age=(1, 3)),
        budget=Budget(specimens=12),
        costs=Costs(currency="EUR", specimen=10.0),
    )
    assert rank_prices(choices, settings).cost == pytest.approx([70.0, 40.0])


def test_ages_that_are_too_weak_do_not_count(tmp_path: Path) -> None:
    rows = ["batch,curing,age_h,strength_mpa"]
    rows += [f"B{batch},standard,{age},{10 + age / 2 + batch / 10}" for batch in range(3) for age in range(1, 41)]
    choices = f"ages = [{FORTY}]\nfewest_ages = 2\nmost_ages = 40\nspecimens_per_age = [1, 40]\nleast_strength_mpa = 29"
    plan = plan_text(choices=choices, budget="specimens = 60", target='ages = ["36 h"]\ntolerance = 0.1')
    path = write_study(tmp_path, plan=plan, breaks="\n".join(rows).encode())
    assert load_plan(path).settings.choices.least_strength_mpa == 29.0  # three ages are left
