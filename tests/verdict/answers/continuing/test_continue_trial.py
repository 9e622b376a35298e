"""A trial batch with its first breaks: likeness, schedules that begin alike, their errors, all done again plainly."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from scipy import stats

from planner.fitting.single import fit_curve
from planner.pipeline import recommend
from planner.population import basis_of
from planner.steps.allowed_choices import rank_prices
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import Plan
from planner.terms.problems import InputError
from planner.terms.records import Break, GivenRecords, Records
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.answers.continuing.beginnings import earlier_batches, rescored
from planner.verdict.answers.continuing.trial_batch import continue_trial
from planner.verdict.selection.search import Search
from tests.verdict.answers.early_breaks_by_hand import AGES_H, SETTING, ByHand, small_plan

N_BATCHES = 7


@cache
def searched(*, is_on_site: bool = False) -> tuple[Plan, Search, Recommendation]:
    plan = small_plan(n_batches=N_BATCHES, is_on_site=is_on_site, n_broken=4)
    advice = recommend(plan, n_draws=5, workers=1)
    return plan, search_of(plan, basis_of(plan), Work(5, 1, 1, None)), advice


def begun(*cells: tuple[float, float, int], **given: Any) -> GivenRecords:
    """Standard-cured breaks (age, strength, specimens) of one batch, maturity as of a logger: 1.2 times the age."""
    breaks = tuple(
        Break(
            **{
                "batch": "T1", "mix": "", "curing": "standard", "age_h": age, "tested_h": age, "strength_mpa": strength,
                "geometry": "cylinder 100x200 mm", "maturity": 1.2 * age, **given,
            }
        )
        for age, strength, count in cells
        for _ in range(count)
    )  # fmt: skip
    return GivenRecords(file="first.csv", records=Records(breaks=breaks))


def answer_of(*cells: tuple[float, float, int]) -> Any:
    plan, search, found = searched()
    return continue_trial(search, found, begun(*cells), cost=lambda choices: rank_prices(choices, plan.settings).cost)


def test_earlier_batches_count_as_they_are_like_it() -> None:
    plan, search, stated = searched()
    hand = ByHand(plan)
    prior = earlier_batches(search, stated.recommended).prior
    found = answer_of((4.0, 17.0, 2), (6.0, 22.0, 3))
    like = {}
    for name in hand.batches:
        distance = 0.0
        for age, strength, count in ((4.0, 17.0, 2), (6.0, 22.0, 3)):
            maturity, mean, n = hand.standard[name][age]
            own = np.log(strength) - prior.at([1.2 * age])[0][0]
            theirs = np.log(mean) - prior.at([maturity])[0][0]
            scatter = np.interp(np.log(1.2 * age), prior.curve.log_maturity, prior.knot_cv) ** 2
            variance = scatter / count + hand.cv(age) ** 2 / n + 2 * prior.departure_sd**2
            distance += (own - theirs) ** 2 / variance
        like[name] = np.exp(-distance / 2)
    for name, share in found.likeness:
        assert share == pytest.approx(0.5 * like[name] / sum(like.values()) + 0.5 / N_BATCHES, rel=1e-6)
    assert sum(share for _, share in found.likeness) == pytest.approx(1.0)


def test_schedules_begin_as_the_batch_did() -> None:
    _, search, stated = searched()
    found = rescored(search, stated.recommended, {4.0: 3, 6.0: 1})
    assert found is not None
    table, _ = found
    planned = {age: n for age, n in zip(*astuple(stated), strict=True) if age > 6.0}
    wanted = set()
    for n_ages in (3, 4):  # two specimens at every age; what is broken stands as it was broken
        for ages in combinations(AGES_H, n_ages):
            if ages[:2] == (4.0, 6.0):
                wanted.add(((4.0, 3), (6.0, 1), *((age, 2) for age in ages[2:])))
    plan_now = ((4.0, 3), (6.0, 1), *planned.items())
    most = sum(n for _, n in plan_now) + 6
    wanted = {one for one in wanted if sum(n for _, n in one) <= most} | {plan_now}
    rows = [table.schedule(row) for row in range(len(table.choices))]
    assert {tuple(zip(one.ages_h, one.specimens, strict=True)) for one in rows} == wanted
    kept = rows[table.planned]
    assert tuple(zip(kept.ages_h, kept.specimens, strict=True)) == plan_now


def astuple(advice: Recommendation) -> tuple[tuple[float, ...], tuple[int, ...]]:
    return advice.recommended.schedule.ages_h, advice.recommended.schedule.specimens


def test_error_as_stated_is_that_of_the_recommendation() -> None:
    """Before anything is told, the plan errs as the recommendation says, by another path."""
    _, search, stated = searched()
    schedule = stated.recommended.schedule
    found = rescored(search, stated.recommended, {schedule.ages_h[0]: schedule.specimens[0]})
    assert found is not None
    table, units = found
    assert stated.spending is not None
    alike = np.full(len(units), 1 / len(units))
    assert table.rms(table.planned, alike) == pytest.approx(stated.spending.recommended.own_batch_rms, rel=1e-6)


def test_errors_of_another_schedule_are_those_of_single_fits() -> None:
    """Against companions on site, so that truth and fit are whole cells: fits one by one."""
    plan, search, stated = searched(is_on_site=True)
    hand, choice = ByHand(plan), stated.recommended
    found = rescored(search, choice, {4.0: 2})
    assert found is not None
    table, _ = found
    for row in range(len(table.choices)):
        schedule = table.schedule(row)
        for column, name in enumerate(search.cells.unit_names):
            cells = np.array([hand.standard[name][age][:2] for age in schedule.ages_h])
            curve = fit_curve(choice.curve, cells[:, 0], cells[:, 1], weighting=choice.weighting)
            slopes = curve.derivative(cells[:, 0])
            weights = cells[:, 1] ** -2.0 if choice.weighting == "relative" else np.ones(len(cells))
            level = 0.0
            for check in hand.checks[name]:
                truth = check.strength_mpa
                at = curve.derivative(np.array([check.maturity_h]))[0]
                gain = at @ np.linalg.pinv(slopes * np.sqrt(weights)[:, None]) * np.sqrt(weights)
                single = (gain * cells[:, 1] * [hand.cv(age) for age in schedule.ages_h] / truth) ** 2
                counts = np.array([hand.standard[name][age][2] for age in schedule.ages_h])
                error = curve.predict(np.array([check.maturity_h]))[0] / truth - 1
                n_alike = sum(other.target_h == check.target_h for other in hand.checks[name])
                level += (0.5 / n_alike) * (
                    error**2 + np.sum(single / schedule.specimens) - np.sum(single / counts)
                    - hand.cv(check.target_h) ** 2 / check.n_specimens
                )  # fmt: skip
            assert table.level[row, column] == pytest.approx(level, rel=2e-3, abs=2e-5)


def test_answer_puts_it_together() -> None:
    plan, search, stated = searched()
    found = answer_of((4.0, 17.0, 2))
    assert found.batch == "T1"
    (mean,) = found.broken
    assert (mean.age_h, mean.mean_mpa, mean.n_specimens) == (4.0, 17.0, 2)
    assert mean.maturity_h == pytest.approx(4.8)
    prior = earlier_batches(search, stated.recommended).prior
    assert mean.expected_mpa == pytest.approx(float(np.exp(prior.at([4.8])[0][0])))
    table, units = rescored(search, stated.recommended, {4.0: 2}) or pytest.fail("not judged")
    weights = np.array([dict(found.likeness)[search.cells.unit_names[unit]] for unit in units])
    assert found.error_as_planned == pytest.approx(table.rms(table.planned, weights))
    assert found.error_before == pytest.approx(table.rms(table.planned, np.full(len(units), 1 / len(units))))
    assert found.n_rescored == len(table.choices)
    decision = table.decide(weights)
    assert found.action == decision.action
    assert found.error_after == pytest.approx(table.rms(decision.row, weights))
    after = table.schedule(decision.row)
    assert found.remaining is not None
    assert found.remaining.ages_h == tuple(age for age in after.ages_h if age > 4.0)
    assert plan.settings.costs is not None
    more = after.n_specimens - table.schedule(table.planned).n_specimens
    if decision.row == table.planned:
        assert found.cost_change == 0.0
    else:
        assert found.cost_change is not None
        assert np.sign(found.cost_change) == np.sign(more)


def test_a_stranger_stops_and_keeps_the_plan() -> None:
    _, search, stated = searched()
    earlier = earlier_batches(search, stated.recommended)
    found = answer_of((4.0, 2.0, 2))
    assert found.action == "stop"
    assert found.stranger is True
    assert found.error_after == found.error_as_planned
    assert found.remaining is not None
    assert found.remaining.ages_h == tuple(age for age in stated.recommended.schedule.ages_h if age > 4.0)
    for word in ("water", "clock", "sensor", "density", "set", "supplier", "responsible engineer"):
        assert word in found.why[0]
    prior = earlier.prior
    at, rows = prior.at([4.8])
    variance = float((rows @ prior.spread @ rows.T)[0, 0]) * (1 + 1 / N_BATCHES)
    variance += float((prior.cv_at([4.8]) ** 2 / 2 + prior.departure_variance([4.8]))[0])
    limit = np.sqrt(stats.f(1, N_BATCHES - 1).ppf(0.99) * variance)
    for factor, is_stranger in ((0.99, False), (1.01, True)):
        assert answer_of((4.0, float(np.exp(at[0] - factor * limit)), 2)).stranger is is_stranger


def test_everything_broken_leaves_nothing() -> None:
    _, _, stated = searched()
    cells = [(age, 10.0 + 5 * np.log(age), n) for age, n in zip(*astuple(stated), strict=True)]
    found = answer_of(*cells)
    assert found.remaining is None or found.action == "add"


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (GivenRecords(file="first.csv", records=Records(breaks=())), "There is no standard-cured break yet"),
        (begun((4.0, 17.0, 2), curing="site"), "There is no standard-cured break yet"),
        (begun((5.0, 17.0, 2)), "No earlier batch was broken at 5 h. Recorded ages: 4 h, 6 h"),
        (begun((4.0, 17.0, 2), maturity=2.5), r"at 4 h has a maturity of 2.5 h .* were broken from \d\.\d to \d\d"),
        (begun((4.0, 17.0, 2), geometry="cube 100 mm"), "cube 100 mm, the earlier batches cylinder 100x200 mm"),
        (
            GivenRecords(
                file="first.csv",
                records=Records(
                    breaks=(
                        *begun((4.0, 17.0, 1)).records.breaks, *begun((4.0, 17.0, 1), batch="T2").records.breaks,
                    )
                ),
            ),
            r"There are 2 batches \(T1, T2\). Give the one that is being broken",
        ),
    ],
)  # fmt: skip
def test_breaks_that_cannot_serve_are_refused(given: GivenRecords, message: str) -> None:
    _, search, found = searched()
    with pytest.raises(InputError, match=message) as caught:
        continue_trial(search, found, given, cost=lambda _: None)
    assert caught.value.problems[0].file == "first.csv"


def test_records_of_two_batches_cannot_say() -> None:
    plan = small_plan(n_batches=2, is_on_site=False, n_broken=4)
    advice = searched()[2]
    search = search_of(plan, basis_of(plan), Work(5, 1, 1, None))
    with pytest.raises(InputError, match="2 batches can be checked and 3 are needed"):
        continue_trial(search, advice, begun((4.0, 17.0, 2)), cost=lambda _: None)


def test_the_corridor_gives_the_same() -> None:
    plan, _, found = searched()
    given = begun((4.0, 17.0, 2))
    through = recommend(plan, n_draws=5, workers=1, trial=given).trial
    assert through is not None
    assert replace(through, why=()) == replace(answer_of((4.0, 17.0, 2)), why=())
    assert found.trial is None
    assert found.recommended.maturity == SETTING
