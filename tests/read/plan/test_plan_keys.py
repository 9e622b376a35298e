"""Every key of a plan with something wrong in it: which key is named, in which words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.read.invented_study import PLAN, only_problem, plan_text, write_study

TARGET, CHOICES = PLAN["target"], PLAN["choices"]
REFUSED = [
    # (table, its text, key named, what the message says)
    (
        "target",
        'ages = ["12 h"]\ntolerance = 10',
        "target.tolerance",
        'Given 10; .*above 0 and below 100 %.*"10 %"',
    ),
    ("target", 'ages = ["12 h"]\ntolerance = "100 %"', "target.tolerance", 'Given "100 %"'),
    ("target", 'ages = ["12 h"]\ntolerance = "0 %"', "target.tolerance", "above 0"),
    ("target", 'ages = ["12 h"]\ntolerance = "ten"', "target.tolerance", "no percentage"),
    ("target", 'ages = ["12 h"]\ntolerance = true', "target.tolerance", "Given True, which is no number"),
    ("target", 'ages = ["12 h"]\ntolerance = nan', "target.tolerance", "not a finite number"),
    ("target", 'ages = ["12 h"]', "target.tolerance", "missing"),
    (
        "target",
        'ages = [12]\ntolerance = "10 %"',
        "target.ages",
        'Given 12 without a unit. Write "12 h" or "12 d"',
    ),
    ("target", 'ages = ["12 x"]\ntolerance = "10 %"', "target.ages", 'Given "12 x", which is no duration'),
    ("target", 'ages = "12 h"\ntolerance = "10 %"', "target.ages", "write a list of ages in brackets"),
    ("target", 'ages = []\ntolerance = "10 %"', "target.ages", "list is empty"),
    ("target", 'ages = ["24 h", "1 d"]\ntolerance = "10 %"', "target.ages", "The age 24 h stands twice"),
    ("target", 'ages = ["-3 h"]\ntolerance = "10 %"', "target.ages", "above 0 h"),
    ("target", TARGET + "\nweights = [1, 2]", "target.weights", "2 weights for 1 target ages"),
    ("target", TARGET + "\nweights = [0]", "target.weights", "every weight must be above 0"),
    ("target", TARGET + '\ncombine = "sum"', "target.combine", 'Given "sum"; allowed are "mean" or "worst"'),
    (
        "target",
        TARGET + "\nover_prediction_weight = 0.5",
        "target.over_prediction_weight",
        "must be 1 or more",
    ),
    ("target", TARGET + '\ntolerence = "5 %"', "target.tolerence", 'The nearest known is "tolerance"'),
    ("target", TARGET + "\nspecimens = 5", "target.specimens", r"belongs under \[budget\]"),
    ("budget", "specimens = 2.5", "budget.specimens", "Given 2.5, which is no whole number"),
    ("budget", "specimens = 0", "budget.specimens", "Given 0; it must be a positive whole number"),
    ("budget", "specimens = -3", "budget.specimens", "Given -3; it must be a positive whole number"),
    ("budget", 'specimens = "12"', "budget.specimens", 'Given "12", which is no whole number'),
    ("budget", "specimens = true", "budget.specimens", "Given True, which is no whole number"),
    ("budget", "specimens = inf", "budget.specimens", "too large"),
    ("budget", "specimens = nan", "budget.specimens", "no whole number"),
    ("budget", "specimens = 12\ncost = 100", "budget.cost", r"needs prices. Give the table \[costs\]"),
    ("budget", None, "budget", r"The table \[budget\] is missing. It needs specimens"),
    (
        "choices",
        CHOICES.replace("fewest_ages = 3", "fewest_ages = 5"),
        "choices.fewest_ages",
        "5 but the most are 4",
    ),
    (
        "choices",
        CHOICES.replace("most_ages = 4", "most_ages = 9").replace("fewest_ages = 3", "fewest_ages = 8"),
        "choices.fewest_ages",
        "8 but only 4 ages are offered",
    ),
    (
        "choices",
        CHOICES + '\nrequired_ages = ["2 d", "3 d"]',
        "choices.required_ages",
        "2 d must be broken but is not",
    ),
    (
        "choices",
        CHOICES.replace("[2, 4]", "[4, 2]"),
        "choices.specimens_per_age",
        "fewest and the most, like",
    ),
    ("choices", CHOICES.replace("[2, 4]", "3"), "choices.specimens_per_age", "Given 3; write"),
    ("choices", CHOICES + '\nminimum_gap = "-1 h"', "choices.minimum_gap", "must not be negative"),
    ("curves", 'families = ["hyperbola"]', "curves.families", 'Perhaps "hyperbolic" is meant'),
    ("curves", "families = []", "curves.families", "at least one"),
    ("maturity", "equivalent_age_q_k = [0]", "maturity.equivalent_age_q_k", "Q is in kelvin"),
    ("maturity", "datum_c = [20, 30]", "maturity.datum_c", "Given 20, 30 C; a datum temperature lies"),
    ("maturity", "datum_c = []", "maturity", "Both lists are empty"),
    ("maturity", 'datum_c = ["cold", "warm"]', "maturity.datum_c", '"cold".*"warm"'),
    ("compare", 'schedules = ["1 d, 3 d x3"]', "compare.schedules", 'has a part "1 d"'),
    ("compare", 'schedules = "1 d x3"', "compare.schedules", "write a list of schedules"),
    ("costs", "specimen = 3", "costs.currency", "missing"),
    ("costs", 'currency = "EUR"\nbreak = -1', "costs.break", "must not be negative"),
    ("costs", 'currency = "EUR"\nbrake = 1', "costs.brake", 'The nearest known is "break"'),
    ("laboratory", 'open = "7-17"', "laboratory.open", "write opening hours like"),
    ("laboratory", 'days = "Mon-Funday"', "laboratory.days", 'Given "Funday", which is no day'),
    ("laboratory", 'closed = ["19.3.2027"]', "laboratory.closed", "which is no date"),
    ("laboratory", 'time_zone = "Mars/Base"', "laboratory.time_zone", "no known time zone"),
    ("laboratory", 'age_tolerances = "mine"', "laboratory.age_tolerances", "are not known. Allowed are"),
    (
        "site",
        "mean_concrete_temperature_c = [35, 12]",
        "site.mean_concrete_temperature_c",
        "coolest and the warmest",
    ),
    ("programme", "spare = 3", "programme.spare", 'The nearest known is "spares"'),
    ("mix", "name = 3", "mix.name", "Given 3, which is no text"),
    ("targets", "ages = []", "targets", 'The nearest known is "target"'),
    ("tolerance", "", "tolerance", r"It belongs under \[target\]"),
]


@pytest.mark.parametrize(("table", "text", "key", "message"), REFUSED)
def test_a_faulty_key_is_named_with_what_was_given(
    tmp_path: Path, table: str, text: str | None, key: str, message: str
) -> None:
    problem = only_problem(write_study(tmp_path, plan=plan_text(**{table: text})))
    assert problem.file == "plan.toml"
    assert problem.column == key
    assert re.search(message, problem.text), problem.text
    assert problem.text.endswith((".", "?"))


@pytest.mark.parametrize(
    ("prior", "key", "message"),
    [
        ("", "prior.breaks", "Give a break file, or published growth"),
        ('published = "EN 1992-1-1 class Q"\nstrength_28d_mpa = 60', "prior.published", "is not known"),
        ('published = "EN 1992-1-1 class R"', "prior.strength_28d_mpa", "strength expected at 28 d"),
        (
            'breaks = "breaks.csv"\npublished = "x"\nstrength_28d_mpa = 60',
            "prior.published",
            "only where there are no",
        ),
        ('breaks = "breaks.csv"\nstrength_28d_mpa = 60', "prior.strength_28d_mpa", "only with published"),
        ('breaks = "breaks.csv"\nwithin_test_cv = "300 %"', "prior.within_test_cv", "below 100 %"),
        ('breaks = "breaks.csv"\nwithin_test_cv = {}', "prior.within_test_cv", "table is empty"),
        ('breaks = "breaks.csv"\nhold_out = "day"', "prior.hold_out", '"batch" or "mix"'),
        ('breaks = "breaks.csv"\nstandard_curing_c = "20 K"', "prior.standard_curing_c", "no temperature"),
        ("breaks = 3", "prior.breaks", "Given 3, which is no text"),
    ],
)
def test_a_faulty_prior_is_named(tmp_path: Path, prior: str, key: str, message: str) -> None:
    problem = only_problem(write_study(tmp_path, plan=plan_text(prior=prior)))
    assert problem.column == key
    assert re.search(message, problem.text), problem.text
