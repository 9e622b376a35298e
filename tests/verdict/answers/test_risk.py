"""The risk of a calibration from errors that are written down: who is judged, by which scatter, at what price."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Given
from typing import Any

import numpy as np
import pytest

from planner.issued_curve.rules.alarm_chances import chance_within, shared_part
from planner.issued_curve.rules.refusal_chances import refusal_chances
from planner.terms.plan.settings import Budget, ChoiceLimits, Costs, ProgrammeSettings, Settings, Target
from planner.terms.results.price_parts import Risk
from planner.verdict.answers.price import risk
from planner.verdict.answers.price.risk import own_errors, risk_of, scaled

TARGETS_H = (16.0, 70.0)
COSTS = Costs(currency="EUR", specimen=18.0, preparation=12.0, break_one=25.0, visit=90.0)
SETTINGS = Settings(
    target=Target(ages_h=TARGETS_H, tolerance=0.1),
    choices=ChoiceLimits(ages_h=(12.0, 24.0, 72.0), fewest_ages=2, most_ages=3, specimens_per_age=(2, 2)),
    budget=Budget(specimens=6),
    programme=ProgrammeSettings(companions_per_check=3),
    costs=COSTS,
)
ERRORS = np.array([[0.02, -0.01], [-0.06, 0.03], [0.05, 0.08], [0.01, 0.04]])
OWN_RMS, LATER_RMS = 0.06, 0.11


def told(monkeypatch: pytest.MonkeyPatch, **given: Any) -> Risk | None:
    """Of two trial batches that cost 1500 each, with 310 paid once; the third batch is a stranger."""
    changed = {
        "rows": ERRORS, "own": OWN_RMS, "later": LATER_RMS, "is_drawn": False, "settings": SETTINGS,
        "batch_cost": 1500.0, "strangers": {"B2": True},
    } | given  # fmt: skip
    names = [f"B{place}" for place in range(len(changed["rows"]))]
    monkeypatch.setattr(risk, "own_errors", lambda *_: (names, changed["rows"]))
    monkeypatch.setattr(risk, "strangers_among", lambda *_: changed["strangers"])
    own, later = (None if rms is None else Given(nested_rms=rms, rms=rms) for rms in (changed["own"], changed["later"]))
    search = Given(
        plan=Given(records=Given(breaks=()), settings=changed["settings"]),
        basis=Given(is_drawn=changed["is_drawn"]),
        cells=Given(ages_h=np.array([12.0, 24.0, 72.0]), cv=np.array([0.07, 0.05, 0.03]), target_ages_h=TARGETS_H),
    )
    advice = Given(
        honest=Given(own_batch=own, next_batch=later), recommended=Given(schedule=Given(ages_h=(12.0, 72.0)))
    )
    estimate = Given(count=Given(n_trial_batches=2))
    return risk_of(search, advice, Given(), estimate, batch_cost=changed["batch_cost"], once=310.0)  # type: ignore[arg-type]


def test_errors_at_the_size_of_held_out_batches_and_the_scatter_of_the_nearest_ages(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = told(monkeypatch)
    assert found is not None
    chances = refusal_chances(
        ERRORS * OWN_RMS / np.sqrt(np.mean(ERRORS**2)),
        own_rms=OWN_RMS, within_test_cv=np.array([0.07, 0.03]), n_companions=3, tolerance=0.1,
    )  # fmt: skip
    by_batch = chances.refused_by_batch.copy()
    by_batch[:, 2] = 1.0  # a stranger is cast anew, whatever its companions show
    assert found.chance_of_repeat == pytest.approx(by_batch[0].mean())
    assert [one.chance_of_repeat for one in found.options] == pytest.approx(by_batch.mean(axis=1))
    assert (found.n_strangers, found.n_batches, found.n_checks) == (1, 4, 20)
    assert found.cost_without_repeat == 310.0 + 2 * 1500.0
    costs = [one.expected_cost for one in found.options]
    assert found.options[0].expected_cost == pytest.approx(310.0 + 3000.0 / (1.0 - found.chance_of_repeat))
    assert found.cheapest == int(np.argmin(costs))  # type: ignore[arg-type]


def test_false_alarms_share_what_two_curves_share(monkeypatch: pytest.MonkeyPatch) -> None:
    found = told(monkeypatch)
    assert found is not None
    shared = shared_part(later_rms=LATER_RMS, n_curves=2, within_test_cv=0.05, n_companions=3)
    assert found.chance_of_false_alarm == pytest.approx(chance_within(20, shared=shared))
    assert found.expected_alarm_cost == pytest.approx(chance_within(20, shared=shared) * 3000.0)
    foreseen = replace(SETTINGS, programme=replace(SETTINGS.programme, n_checks=7))
    more = told(monkeypatch, settings=foreseen)
    assert more is not None
    assert (more.n_checks, more.chance_of_false_alarm) == (7, pytest.approx(chance_within(7, shared=shared)))


@pytest.mark.parametrize("later", [None, 0.0])
def test_without_an_error_on_later_pours_no_alarm_is_told(monkeypatch: pytest.MonkeyPatch, later: float | None) -> None:
    found = told(monkeypatch, later=later)
    assert found is not None
    assert (found.chance_of_false_alarm, found.expected_alarm_cost) == (None, None)


def test_without_prices_chances_alone_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    found = told(monkeypatch, batch_cost=None, strangers=None)
    assert found is not None
    assert (found.cost_without_repeat, found.expected_alarm_cost, found.n_strangers) == (None, None, None)
    assert found.chance_of_false_alarm is not None
    assert found.cheapest == int(np.argmin([one.chance_of_repeat for one in found.options]))


@pytest.mark.parametrize(
    "given",
    [{"rows": ERRORS[:2]}, {"own": None}, {"own": 0.0}, {"is_drawn": True}],
    ids=lambda given: next(iter(given)),
)
def test_what_cannot_tell_of_it(monkeypatch: pytest.MonkeyPatch, given: dict[str, Any]) -> None:
    assert told(monkeypatch, **given) is None


def test_three_batches_without_a_stranger_are_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    found = told(monkeypatch, rows=ERRORS[:3], own=1e-9, strangers={"B0": False, "B1": False})
    assert found is not None
    assert (found.n_batches, found.n_strangers) == (3, 0)
    assert found.chance_of_repeat < 0.2


def test_errors_of_a_batch_are_means_at_each_target_and_one_without_a_target_is_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Four batches: two checks of the first at one target, a gap in the second, no check of the third at one."""
    read = np.array([0.10, 0.30, -0.20, 0.25, 0.05, 0.0, np.nan, 0.25, 0.60])
    target = np.array([0, 0, 1, 0, 1, 0, 0, 1, 1])
    view = np.array([0, 0, 0, 1, 1, 2, 3, 3, 3])

    class Stub:
        def __init__(self, *_given: Any) -> None: ...

        def at_checks(self, _place: int, joint: int) -> Any:
            assert joint == 5
            return Given(error=read)

    monkeypatch.setattr(risk, "FoldTable", Stub)
    monkeypatch.setattr(risk, "joint_of", lambda *_: 5)
    monkeypatch.setattr(risk, "alone", lambda *_: None)
    column = np.zeros((2, 1))
    table = Given(
        cells=Given(checks=Given(view=view), views=Given(batch=("a", "b", "c", "d")), target_ages_h=TARGETS_H),
        scoring=Given(target=target), joints=(), loss=column, joint=column, left_out=column,
    )  # fmt: skip
    found = own_errors(table, Given(recommended=Given(schedule=None)))  # type: ignore[arg-type]
    assert found is not None
    names, rows = found
    assert names == ["a", "b"]  # c has no second target, d no first that is known
    assert rows == pytest.approx(np.array([[1 / 1.2 - 1, 1 / 0.8 - 1], [1 / 1.25 - 1, 1 / 1.05 - 1]]))
    monkeypatch.setattr(Stub, "at_checks", lambda *_: Given(error=np.full(9, np.nan)))
    assert own_errors(table, Given(recommended=Given(schedule=None))) is None  # type: ignore[arg-type]


def test_errors_that_are_all_nought_stay_so() -> None:
    assert scaled(np.zeros((2, 2)), 0.05).tolist() == [[0.0, 0.0], [0.0, 0.0]]
