"""Cautions about the schedule and its errors: when each is given, when not, and at its limit."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from planner.terms.plan.settings import Laboratory
from planner.terms.schedule import Schedule
from planner.verdict.statistics.left_out import MOST_LEFT_OUT
from planner.verdict.wording.cautions.answer_cautions import answer_cautions
from tests.verdict.wording.cautions.circumstances import (
    AGES_H,
    Case,
    Changed,
    Figures,
    about,
    every,
    given_past_its_limit,
    says,
)


def later(share: float) -> Any:
    return SimpleNamespace(
        rms=0.04, between_batch_cv=0.02, rms_by_trial_batches=(0.04, 0.035, 0.03), over_predicted_beyond_tolerance=share
    )


def off(rms: float) -> Any:
    return SimpleNamespace(
        rms=rms,
        between_batch_cv=0.02,
        rms_by_trial_batches=(rms, 0.9 * rms, 0.8 * rms),
        over_predicted_beyond_tolerance=0.0,
    )


def own(*, below: bool) -> Any:
    return SimpleNamespace(nested_rms=0.03, is_below_resolution=below, over_predicted_beyond_tolerance=0.0)


CASES: list[Case] = [
    # code, circumstances just past the limit, circumstances just at it
    (
        "nothing-cast",
        {"settings__programme_asked__relies_on_records": True},
        {"settings__programme_asked__relies_on_records": False},
    ),
    ("other-pour", {"honest__next_batch": off(0.0451)}, {"honest__next_batch": off(0.045)}),
    ("over-prediction", {"honest__next_batch": later(0.051)}, {"honest__next_batch": later(0.05)}),
    ("below-resolution", {"honest__own_batch": own(below=True)}, {"honest__own_batch": own(below=False)}),
    ("no-safe-reading", {"honest__safe_reading_factor": None}, {"honest__safe_reading_factor": 1.0}),
    ("extrapolation", {"recommended__is_extrapolating": True}, {"recommended__is_extrapolating": False}),
    (
        "two-specimens",
        {"recommended__schedule": Schedule(AGES_H, (3, 2, 3, 3))},
        {"recommended__schedule": Schedule(AGES_H, (3, 3, 3, 3))},
    ),
    (
        "before-form-removal",
        {"settings__laboratory": Laboratory(form_removal_h=6.5)},
        {"settings__laboratory": Laboratory(form_removal_h=6.0)},
    ),
    ("target-outside-span", {"cells__target_ages_h": (5.9, 24.0)}, {"cells__target_ages_h": (6.0, 24.0)}),
    (
        "wide-strength-step",
        {"cells__typical_mpa": lambda: np.array((3.9, 20.0, 32.0, 40.0))},
        {"cells__typical_mpa": lambda: np.array((4.0, 20.0, 32.0, 40.0))},
    ),
    (
        "one-sensor",
        {"settings__programme": SimpleNamespace(instrumented=1)},
        {"settings__programme": SimpleNamespace(instrumented=0)},
    ),
    ("search-thinned", {"is_thinned": True}, {"is_thinned": False}),
    (
        "even-choice-of-batches",
        {"cells__n_units": MOST_LEFT_OUT + 1},
        {"cells__n_units": MOST_LEFT_OUT},
    ),
    ("fits-at-bounds", {"matrix__n_at_bound": 11}, {"matrix__n_at_bound": 10}),
]
FIGURES: list[Figures] = [
    (  # 28 d is offered, but its specimens check
        "target-outside-span",
        {"cells__target_ages_h": (672.0, 672.0), "cells__is_candidate": np.array([True, True, True, False])},
        ("28 d lies outside", "6 h to 7 d", "The plan offers 28 d, but too few were broken there"),
    ),
    ("target-outside-span", {"cells__target_ages_h": (24.0, 1000.0)}, ("Offer an age beyond the target.",)),
    (
        "other-pour",
        {"honest__next_batch": off(0.116)},
        ("11.6 % off", "the own batch 3.0 %", "about 2.0 %", "about 10.4 %"),
    ),
    (
        "over-prediction",
        {"honest__next_batch": later(0.23)},
        (
            "23 % of readings are too high",
            "the dangerous side",
            "1.20 times",
            "12.0 MPa for 10.0 MPa and 24.0 MPa for 20.0 MPa",
            "10 % of pours may",
        ),
    ),
    (
        "wide-strength-step",
        {"cells__typical_mpa": lambda: np.array((2.0, 20.0, 32.0, 40.0))},
        ("At 12 h the curve", "from 6 h (2 MPa) to 1 d (20 MPa)", "45 %", "ASTM C1074"),
    ),
]


@pytest.mark.parametrize(("code", "past", "at"), CASES, ids=[case[0] for case in CASES])
def test_given_past_its_limit_and_not_at_it(code: str, past: Changed, at: Changed) -> None:
    given_past_its_limit(code, past, at)


@pytest.mark.parametrize(("code", "changed", "said"), FIGURES, ids=[case[0] for case in FIGURES])
def test_figures_in_the_words(code: str, changed: Changed, said: tuple[str, ...]) -> None:
    says(code, changed, said)


def test_a_safe_reading_factor_is_rounded_up() -> None:
    made = about(honest__next_batch=later(0.2), honest__safe_reading_factor=1.341)
    (text,) = [caution.text for caution in every(made) if caution.code == "over-prediction"]
    assert "must read 1.35 times" in text


def test_targets_over_one_hole_are_told_together() -> None:
    changed = {
        "cells__target_ages_h": (12.0, 18.0),
        "cells__typical_mpa": lambda: np.array((2.0, 20.0, 32.0, 40.0)),
    }
    (text,) = [caution.text for caution in answer_cautions(about(**changed)) if caution.code == "wide-strength-step"]
    assert text.startswith("At 12 h, 18 h the curve spans a hole")


def test_nothing_is_called_held_out_that_was_drawn() -> None:
    wide = SimpleNamespace(
        rms=0.116, between_batch_cv=0.02, rms_by_trial_batches=(0.116,), over_predicted_beyond_tolerance=0.0
    )
    for is_drawn, said in ((False, "With the choosing held out, "), (True, "On drawn batches, ")):
        changed = {"honest__next_batch": wide, "basis__is_drawn": is_drawn}
        (text,) = [caution.text for caution in answer_cautions(about(**changed)) if caution.code == "other-pour"]
        assert text.startswith(said)


@pytest.mark.parametrize(("is_drawn", "which"), [(False, "In a batch or more"), (True, "In a drawn batch or more")])
def test_a_batch_that_was_drawn_is_called_so(is_drawn: bool, which: str) -> None:
    says("extrapolation", {"recommended__is_extrapolating": True, "basis__is_drawn": is_drawn}, (which,))
