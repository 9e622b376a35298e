"""Every value that is more often a slip: told just past its bound with the edit that puts it right, not at it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from planner.read.plan.doubts.plan_doubts import plan_doubts
from planner.terms.plan.settings import (
    Budget,
    ChoiceLimits,
    Costs,
    Laboratory,
    Prior,
    ProgrammeSettings,
    Settings,
    Target,
)

SETTINGS = Settings(
    target=Target(ages_h=(16.0, 72.0), tolerance=0.1),
    choices=ChoiceLimits(ages_h=(12.0, 24.0, 72.0, 672.0), fewest_ages=2, most_ages=3, specimens_per_age=(2, 4)),
    budget=Budget(specimens=18),
    prior=Prior(within_test_cv=0.04, between_batch_cv=0.08),
    programme=ProgrammeSettings(most_trial_batches=2),
    laboratory=Laboratory(opens=dt.time(7), closes=dt.time(17)),
    costs=Costs(currency="EUR", specimen=18.0, preparation=12.0, break_one=25.0, visit=90.0, casting=150.0),
    final_set_h=5.0,
)


def told(table: str, **changed: Any) -> list[str]:
    """What is told of the plan with one table, or the settings themselves, changed."""
    held = getattr(SETTINGS, table, None)
    settings = replace(SETTINGS, **{table: replace(held, **changed)}) if held else replace(SETTINGS, **changed)
    found = plan_doubts("plan.toml", settings)
    assert {one.code for one in found} <= {"plan-value"}
    return [one.text.removeprefix("plan.toml, ") for one in found]


LATER = Target(ages_h=(72.0,), tolerance=0.1)
# Table, what is just kept, what is just told, how the text begins, and what it says to do.
BOUNDS: list[tuple[str, dict[str, Any], dict[str, Any], str, str]] = [
    ("target", {"tolerance": 0.30}, {"tolerance": 0.31}, "target.tolerance: 31 %", "exchange the two"),
    (
        "", {"final_set_h": 24.0, "target": LATER}, {"final_set_h": 24.6, "target": LATER},
        "mix.final_set_h: final set after 24.6 h", "write 0.41.",
    ),
    ("prior", {"within_test_cv": 0.15}, {"within_test_cv": 0.16}, "prior.within_test_cv", "given 16.00 %"),
    ("prior", {"within_test_cv": 0.005}, {"within_test_cv": 0.0049}, "prior.within_test_cv", "given 0.49 %"),
    (
        "prior", {"within_test_cv_by_age": ((24.0, 0.15),)}, {"within_test_cv_by_age": ((24.0, 0.16),)},
        "prior.within_test_cv", "given 16.00 %",
    ),
    ("prior", {"between_batch_cv": 0.30}, {"between_batch_cv": 0.31}, "prior.between_batch_cv", "given 31.00 %"),
    ("prior", {"between_batch_cv": 0.01}, {"between_batch_cv": 0.009}, "prior.between_batch_cv", "given 0.90 %"),
    ("prior", {"between_batch_cv": None}, {"between_batch_cv": 0.5}, "prior.between_batch_cv", "given 50.00 %"),
    ("programme", {"spares": 1.0}, {"spares": 10.0}, "programme.spares: 10 spares", 'Was "10 %" meant?'),
    ("budget", {"latest_age_h": 672.0}, {"latest_age_h": 671.0}, "budget.latest_age: 671 h leaves out 28 d", "unit"),
    ("target", {"ages_h": (5.0, 72.0)}, {"ages_h": (4.9, 72.0)}, "mix.final_set_h: the target", "one of the two"),
    ("choices", {"minimum_gap_h": 23.0}, {"minimum_gap_h": 48.0}, "choices.minimum_gap: breaks", 'write "2 h"'),
    (
        "choices", {"least_strength_mpa": 10.0}, {"least_strength_mpa": 10.5}, "choices.least_strength_mpa",
        "weaker than 10.5 MPa",
    ),
    # 3 ages of 4 specimens for 2 trial batches are 24; five times that may be a reserve
    ("budget", {"specimens": 120}, {"specimens": 121}, "budget.specimens: 121, where the largest", "has 24."),
    ("programme", {"instrumented": 6}, {"instrumented": 7}, "programme.instrumented: 7", "2 are usual"),
    (
        "programme", {"companions_per_check": 12}, {"companions_per_check": 13}, "programme.companions_per_check: 13",
        "3 are usual",
    ),
    ("laboratory", {"closes": dt.time(23)}, {"closes": dt.time(0)}, "laboratory.open: open for 17 hours", '"17:00"'),
    (
        "laboratory", {"opens": dt.time(22), "closes": dt.time(6)}, {"opens": dt.time(7), "closes": dt.time(5, 30)},
        "laboratory.open: open for 22.5 hours a day, 07:00 to 05:30", "round the clock",
    ),
    ("laboratory", {"minutes_per_break": 1.0}, {"minutes_per_break": 0.9}, "laboratory.minutes_per_break: 0.9", "3 to"),
    ("laboratory", {"minutes_per_break": 60.0}, {"minutes_per_break": 61.0}, "laboratory.minutes_per_break: 61", "3"),
    (
        "laboratory", {"closed": (dt.date(2000, 1, 1),)}, {"closed": (dt.date(2027, 1, 1), dt.date(1999, 12, 24))},
        "laboratory.closed: 1999-12-24", "Correct the year",
    ),
    ("laboratory", {"form_removal_h": 168.0}, {"form_removal_h": 192.0}, "laboratory.form_removal", 'write "8 h"'),
    (
        "costs", {"visit_outside_hours": 90.0}, {"visit_outside_hours": 80.0}, "costs.visit_outside_hours: 80 EUR",
        "inside hours (90)",
    ),
    (
        "costs", {"casting_outside_hours": 150.0}, {"casting_outside_hours": 140.0}, "costs.casting_outside_hours: 140",
        "inside hours (150)",
    ),
    (
        "costs", {"are_ends_prepared": False, "preparation": 0.0}, {"are_ends_prepared": False},
        "costs.preparation: cubes are broken", "12 EUR for each",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("table", "kept", "slip", "begins", "said"), BOUNDS, ids=[str(row[2]) for row in BOUNDS])
def test_told_past_the_bound_and_not_at_it(
    table: str, kept: dict[str, Any], slip: dict[str, Any], begins: str, said: str
) -> None:
    assert [text for text in told(table, **kept) if text.startswith(begins.split(":")[0])] == []
    (text,) = [text for text in told(table, **slip) if text.startswith(begins)]
    assert said in text


def test_a_sound_plan_is_told_nothing_and_needs_neither_laboratory_nor_prices() -> None:
    assert told("", final_set_h=5.0) == []
    assert told("", laboratory=None, costs=None) == []
