"""Every caution on a trial batch, its site checks and breaks after the plan: when given, when not, at its limit."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from planner.issued_curve.wording.check_cautions import check_cautions, order_cautions, required_cautions
from planner.issued_curve.wording.read_cautions import read_cautions
from planner.issued_curve.wording.trial_cautions import outside_records_cautions, trial_cautions
from planner.issued_curve.wording.usable_cautions import usable_cautions
from planner.terms.problems import Caution
from planner.terms.schedule import Schedule
from tests.issued_curve.invented_curves import issued_curve, promise

Given = dict[str, Any]
Case = tuple[str, Given, Given]  # code, what is given just past its limit, and just at it


def of_mix(mix: str) -> Any:
    return SimpleNamespace(batch="trial-1", mix=mix)


def of_trial(
    *,
    ages_h: tuple[float, ...] = (6.0, 24.0, 168.0),
    mean_mpa: tuple[float, ...] = (10.0, 20.0, 30.0),
    batches: tuple[str, ...] = ("B1",),
    mixes: tuple[str, str] = ("a", "a"),
    maturity_h: tuple[float, float] = (5.0, 170.0),
    **fit: Any,
) -> list[Caution]:
    """A trial batch broken as the schedule asks, with what is given in place."""
    outside = [(age, at) for age, at in zip((6.0, 168.0), maturity_h, strict=True) if not 5.0 <= at <= 170.0]
    means: Any = SimpleNamespace(
        batch="trial-1", age_h=np.array(ages_h), mean_mpa=np.array(mean_mpa), outside=lambda _: outside
    )
    shape: Any = SimpleNamespace(**({"fits_badly": False, "lack_of_fit": 0.5, "is_at_bound": False} | fit))
    choice: Any = SimpleNamespace(curve="hyperbolic", schedule=Schedule((6.0, 24.0, 168.0), (3, 3, 3)))
    records: Any = SimpleNamespace(batches=batches, breaks=[of_mix(mixes[0])])
    found = trial_cautions(
        means, shape, choice=choice, records=records, mix=mixes[0], breaks=[of_mix(mixes[1])], is_dated=False
    )
    return [*found, *outside_records_cautions(means, (5.0, 170.0))]


OF_TRIALS: list[Case] = [
    # an age within 2 % of another is that age
    (
        "ages-not-planned",
        {"ages_h": (6.0, 6.13, 24.0, 168.0), "mean_mpa": (10.0, 10.0, 20.0, 30.0)},
        {"ages_h": (6.0, 6.12, 24.0, 168.0), "mean_mpa": (10.0, 10.0, 20.0, 30.0)},
    ),
    ("ages-missing", {"ages_h": (6.0, 24.0), "mean_mpa": (10.0, 20.0)}, {"ages_h": (6.0, 24.4, 168.0)}),
    # below 98 % of the younger mean
    ("strength-falls", {"mean_mpa": (10.0, 20.0, 19.59)}, {"mean_mpa": (10.0, 20.0, 19.6)}),
    ("lack-of-fit", {"fits_badly": True}, {"fits_badly": False}),
    ("parameter-at-bound", {"is_at_bound": True}, {"is_at_bound": False}),
    ("trial-among-records", {"batches": ("B1", "trial-1")}, {"batches": ("B1", "trial-11")}),
    ("another-mix", {"mixes": ("a", "b")}, {"mixes": ("a", "")}),
    ("trial-outside-records", {"maturity_h": (4.99, 170.0)}, {"maturity_h": (5.0, 170.0)}),
]


def of_checks(
    *, n_void: int = 0, is_inside: bool = True, n_each: int = 2, plan_sum: str = "sha256:00", **curve: Any
) -> list[Caution]:
    """Site checks of an issued curve whose inputs are those of the plan."""
    issued = issued_curve(inputs=(("plan.toml", "sha256:00"),), **curve)
    companions = SimpleNamespace(batch="P1", age_h=24.0, is_inside=is_inside, n_specimens=n_each)
    check: Any = SimpleNamespace(companions=companions)
    given: Any = SimpleNamespace(file="checks.csv", records=SimpleNamespace(voided=(None,) * n_void))
    plan: Any = SimpleNamespace(inputs=(("plan.toml", plan_sum),))
    return list(check_cautions(plan, issued, [check], given))


OF_CHECKS: list[Case] = [
    ("inputs-changed", {"plan_sum": "sha256:01"}, {"plan_sum": "sha256:00"}),
    ("checks-outside", {"is_inside": False}, {"is_inside": True}),
    ("checks-voided", {"n_void": 1}, {"n_void": 0}),
    ("one-companion", {"n_each": 1}, {"n_each": 2}),
    ("one-companion", {"n_each": 1}, {"n_each": 1, "promise": promise(companions_per_check=1)}),
    ("not-calibrated", {"is_calibrated": False}, {"is_calibrated": True}),
    ("other-version", {"version": "0.0.9"}, {"version": "0.1.0"}),
]


def of_order(*, cast: dict[str, set[int]], required: tuple[float, ...] = (20.0, 20.0)) -> list[Caution]:
    """Pours with their casting times, and the strengths required of the companions of one check."""
    breaks: list[Any] = [
        SimpleNamespace(curing="site", batch="P1", age_h=24.0, placement="", required_mpa=mpa) for mpa in required
    ]
    return [*order_cautions(cast, "checks.csv"), *required_cautions(breaks)]


IN_ORDER = {"P1": {1}, "P2": {2}}
OF_ORDER: list[Case] = [
    ("order-of-rows", {"cast": {"P1": {1}, "P2": set()}}, {"cast": {"P1": set(), "P2": set()}}),
    ("ordered-by-casting", {"cast": {"P1": {2}, "P2": {1}}}, {"cast": {"P1": {1}, "P2": {1}}}),
    ("several-required", {"cast": IN_ORDER, "required": (20.0, 20.1)}, {"cast": IN_ORDER}),
]


def of_usable(*, unused: tuple[str, ...] = (), n_differing: int = 0, assumed: tuple[str, ...] = ()) -> list[Caution]:
    """Breaks after the plan that all have a record and a curing that counts."""
    item = SimpleNamespace(batch="P1", curing="site", age_h=24.0, given=20.0, recorded=24.0)
    usable: Any = SimpleNamespace(
        file="trial.csv", unused_curings=unused, differing=(item,) * n_differing, assumed=assumed, assumed_c=20.0
    )
    return list(usable_cautions(usable))


OF_USABLE: list[Case] = [
    ("curing-not-used", {"unused": ("heat",)}, {"unused": ()}),
    ("maturity-differs", {"n_differing": 1}, {"n_differing": 0}),
    ("no-temperature-on-site", {"assumed": ("P1",)}, {"assumed": ()}),
]
CASES = [
    *((of_trial, *case) for case in OF_TRIALS),
    *((of_checks, *case) for case in OF_CHECKS),
    *((of_order, *case) for case in OF_ORDER),
    *((of_usable, *case) for case in OF_USABLE),
]


@pytest.mark.parametrize(("told", "code", "past", "at"), CASES, ids=[case[1] for case in CASES])
def test_given_past_its_limit_and_not_at_it(told: Any, code: str, past: Given, at: Given) -> None:
    assert [caution.code for caution in told(**past)] == [code]
    assert code not in [caution.code for caution in told(**at)]


def test_nothing_is_said_of_a_sound_trial_of_sound_checks_and_breaks() -> None:
    assert [*of_trial(), *of_checks(), *of_order(cast=IN_ORDER), *of_usable()] == []


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (of_trial(ages_h=(6.5, 24.0, 168.0)), ("trial-1 was broken at 6.5 h,", "trial-1 was not broken at 6 h of")),
        (of_trial(mean_mpa=(10.0, 20.0, 15.0)), ("trial-1 is weaker at 7 d than before",)),
        (of_trial(fits_badly=True, lack_of_fit=0.004), ("from the hyperbolic curve", "(chance 0.004)")),
        (of_trial(is_at_bound=True), ("A parameter of batch trial-1 lies on its bound",)),
        (of_trial(mixes=("a", "b")), ('is of mix "b", the plan and its records of "a"',)),
        (of_trial(maturity_h=(3.0, 180.0)), ("6 h (3.0 h), 7 d (180.0 h)", "were from 5.0 to 170.0 h")),
        (of_checks(n_void=1), ("Left out, as checks.csv says: 1 void break.",)),
        (of_checks(n_void=3), ("3 void breaks.",)),
        (of_checks(is_inside=False), ("not counted by the lasting rule: P1 at 1 d.",)),
        (
            of_order(cast=IN_ORDER, required=(20.0, 25.0)),
            ("of which the highest counts", "P1 at 1 d (20.0 to 25.0 MPa)"),
        ),
        (of_usable(n_differing=5), ("by more than 5 %", "P1 site at 1 d 20 (record 24)", "and 1 more.")),
        (
            of_usable(assumed=("P1", "P2")),
            ("breaks of P1, P2 have no temperature", "kept at 20 C. On a colder site the curve then reads too much"),
        ),
        (
            list(read_cautions(issued_curve(is_calibrated=False, basis="records", curve="records"))),
            ("The curve is NOT CALIBRATED",),
        ),
        (list(read_cautions(issued_curve(is_calibrated=False))), ("was NOT ACCEPTED: no pour may be released",)),
    ],
)
def test_figures_in_the_words(found: list[Caution], said: tuple[str, ...]) -> None:
    text = " ".join(caution.text for caution in found)
    for part in said:
        assert part in text
