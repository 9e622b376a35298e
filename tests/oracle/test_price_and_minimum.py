"""What knowing the strength costs and the least that has to be broken, against the same worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.pipeline import minimum, price
from planner.read import load_plan
from planner.terms.results.choice_role import ChoiceRole
from tests.oracle.plain.candidates import Limits, Schedule
from tests.oracle.plain.restrictions import Least, Restricted, cost_of
from tests.oracle.small_plans import AGES_H, Asked, by_hand, from_scenario, invent, write_plan

CLOSE = {"rtol": 2e-5, "atol": 1e-9}  # the program keeps lowest losses in single precision
PRICES = {"specimen": 18.0, "preparation": 12.0, "break": 25.0, "visit": 90.0, "instrumented": 60.0, "fixed": 400.0}
NAMES = {24.0: "1 d", 72.0: "3 d"}
COMPARED = (Schedule((12.0, 72.0, 168.0), (2, 2, 2)), Schedule((6.0, 12.0, 72.0), (2, 2, 2)))
MORE = """
[compare]
schedules = ["12 h x2, 3 d x2, 7 d x2", "6 h x2, 12 h x2, 3 d x2"]
[programme]
instrumented = 2
spares = "10 %"
[costs]
currency = "EUR"
""" + "\n".join(f"{name} = {value}" for name, value in PRICES.items())

PLANS = {
    "one target": (
        Asked(Limits(AGES_H, 3, 4, (2, 3), 10), (12.0,), final_set_h=3.0),
        {"seed": 11, "n_batches": 5, "target_h": 12.0, "n_each": 3},
    ),
    "two targets": (
        Asked(Limits(AGES_H, 2, 3, (1, 3), 9, tolerance=0.15, shares=(0.5, 0.5)), (12.0, 72.0), q_k=(5000.0,)),
        {"seed": 12, "n_batches": 6, "target_h": 12.0, "n_each": 3},
    ),
    "the fewest specimens are unequal": (
        Asked(Limits(AGES_H, 2, 3, (1, 3), 8, tolerance=0.07), (12.0,), q_k=(5000.0,), final_set_h=3.0),
        {"seed": 29, "n_batches": 5, "target_h": 12.0, "n_each": 3},
    ),
    "runway at 6 h": (
        Asked(
            Limits((4.0, 6.0, 8.0, 12.0, 72.0, 168.0), 2, 3, (2, 4), 9, tolerance=0.12, least_strength_mpa=3.0), (6.0,),
            q_k=(5000.0,), final_set_h=1.5,
        ),
        {"scenario": "runway-panels"},
    ),
}  # fmt: skip


@pytest.fixture(scope="module", params=PLANS)
def plan(request, tmp_path_factory):
    asked, invented = PLANS[request.param]
    folder = tmp_path_factory.mktemp("plan")
    (from_scenario if "scenario" in invented else invent)(folder, **invented)
    return folder, asked, load_plan(write_plan(folder, asked, more=MORE))


@pytest.fixture(scope="module")
def priced(plan):
    folder, asked, loaded = plan
    return price(loaded, n_draws=20, workers=1), Restricted(by_hand(folder, asked))


def cost_by_hand(schedule):
    return cost_of(schedule, PRICES, instrumented=2, spares=0.10)


def schedule_of(found):
    return Schedule(tuple(found.ages_h), tuple(found.specimens))


@pytest.mark.parametrize("which", ["by_specimens", "by_cost"])
def test_frontier(priced, which):
    told, restricted = priced
    schedules = restricted.candidates.schedules
    amount = np.array([float(s.n) if which == "by_specimens" else cost_by_hand(s) for s in schedules])
    wanted = restricted.frontier(amount)
    found = getattr(told, which)
    if which == "by_specimens":  # few enough to be shown one by one
        assert len(found) == len(wanted)
    by_limit = {round(limit, 6): (standing, rms) for limit, standing, rms in wanted}
    assert found
    for point in found:
        # Of many prices only some are shown, so neighbours are pooled among those: the limit decides what stands there.
        standing = restricted.standing(amount <= point.limit + 1e-9)
        assert schedule_of(point.schedule) == standing.schedule
        assert (point.curve, point.weighting) == restricted.candidates.joints[standing.joint][:2]
        assert point.n_specimens == standing.schedule.n
        np.testing.assert_allclose(point.cost, cost_by_hand(standing.schedule))
        np.testing.assert_allclose(point.rms_unsmoothed, standing.rms, **CLOSE)
        np.testing.assert_allclose(point.within_tolerance, standing.share, rtol=1e-5)
        np.testing.assert_allclose(point.later_rms, restricted.later(standing)["rms"], **CLOSE)
        if which == "by_specimens":
            np.testing.assert_allclose(point.rms, by_limit[round(point.limit, 6)][1], **CLOSE)


def test_one_more_specimen(plan, priced):
    _, asked, _ = plan
    told, restricted = priced
    recommended = told.recommendation.recommended
    schedule, limits = schedule_of(recommended.schedule), restricted.candidates.limits
    joint = next(
        j
        for j, (curve, weighting, m) in enumerate(restricted.candidates.joints)
        if (curve, weighting) == (recommended.curve, recommended.weighting)
        and asked.q_k[m] == recommended.maturity.constant
    )
    rms = told.recommendation.honest.own_batch.nested_rms
    np.testing.assert_allclose([gain.rms_then for gain in told.gains], restricted.gains(schedule, joint, rms), **CLOSE)
    for gain, n in zip(told.gains, schedule.counts, strict=True):
        assert (gain.n_now, gain.rms_now) == (n, rms)
        assert gain.is_allowed == (n < limits.per_age[1] and schedule.n < limits.specimens)


def test_specimens_that_another_schedule_needs(priced):
    told, restricted = priced
    found = [item for item in told.equalities if item.label is ChoiceRole.COMPARED]
    assert [schedule_of(item.schedule) for item in found] == list(COMPARED)
    for item in found:
        rms, counts = restricted.needed(schedule_of(item.schedule), told.recommendation.honest.own_batch.nested_rms)
        np.testing.assert_allclose(item.rms, rms, **CLOSE)
        assert item.n_specimens_needed == (None if counts is None else sum(counts))
        assert (None if item.schedule_needed is None else list(item.schedule_needed.specimens)) == counts


@pytest.fixture(scope="module")
def least(plan):
    folder, asked, loaded = plan
    told = minimum(loaded, n_draws=20, workers=1)
    everything = [(told.together, asked)]
    if len(asked.targets_h) > 1:
        for target, found in zip(asked.targets_h, told.targets, strict=True):
            alone = replace(asked, targets_h=(target,), limits=replace(asked.limits, shares=(1.0,)))
            everything.append((found, alone))
    return [(found, Least(Restricted(by_hand(folder, one)), 0.90)) for found, one in everything]


def same_standing(found, wanted, least):
    assert schedule_of(found.schedule) == wanted.schedule
    assert found.curve == least.restricted.candidates.joints[wanted.joint][0]
    np.testing.assert_allclose(found.rms, wanted.rms, **CLOSE)
    np.testing.assert_allclose(found.score_rms, wanted.score_rms, **CLOSE)
    np.testing.assert_allclose(found.within_tolerance, wanted.share, rtol=1e-5)
    np.testing.assert_allclose(found.within_tolerance_lower_95, wanted.lower_95, atol=0.01)
    np.testing.assert_allclose(found.cost, cost_by_hand(wanted.schedule))
    assert found.is_inside == least.is_inside(wanted)


def test_unrestricted_and_fewest(least):
    for found, by_hand_least in least:
        everything = np.ones(len(by_hand_least.n), dtype=bool)
        free = by_hand_least.restricted.standing(everything)
        same_standing(found.unrestricted, free, by_hand_least)
        later = by_hand_least.restricted.later(free)
        np.testing.assert_allclose(found.unrestricted.later_rms, later["rms"], **CLOSE)
        np.testing.assert_allclose(found.unrestricted.later_within_tolerance, later["within_tolerance"], **CLOSE)
        fewest = by_hand_least.fewest(by_hand_least.restricted.candidates.joints[free.joint][2])
        assert (found.fewest is None) == (fewest is None)
        if fewest is not None:
            same_standing(found.fewest, fewest, by_hand_least)
            most = min(fewest.schedule.n + min(fewest.schedule.counts), int(by_hand_least.n.max()))
            assert found.most_specimens == most


def test_what_the_target_is(least):
    for found, by_hand_least in least:
        candidates = by_hand_least.restricted.candidates
        study = candidates.study
        free = by_hand_least.restricted.standing(np.ones(len(by_hand_least.n), dtype=bool))
        m = candidates.joints[free.joint][2]
        maturities = [check.maturity_h[m] for check in study.checks]
        truths = [check.truth_mpa for check in study.checks]
        np.testing.assert_allclose(found.maturity_h, np.median(maturities))
        np.testing.assert_allclose(found.maturity_span_h, (min(maturities), max(maturities)))
        np.testing.assert_allclose(found.strength_mpa, (min(truths), np.mean(truths), max(truths)))
        assert (found.n_batches, found.n_schedules) == (len(study.units), len(candidates.schedules))
        typical = {
            age: np.median([view.maturity_h[age][m] for view in study.views if age in view.maturity_h])
            for age in by_hand_least.offered
        }
        for age in found.ages:
            np.testing.assert_allclose(age.multiple, typical[age.age_h] / np.median(maturities))
        by_target = [
            np.median([check.maturity_h[m] for check in study.checks if check.target == target])
            for target in range(len(study.targets_h))
        ]
        for bound in found.bounds:
            end = min(by_target) if bound.which == "first break" else max(by_target)
            np.testing.assert_allclose(bound.multiple, typical[bound.age_h] / end)


def test_ages_that_must_be_there(least):
    for found, by_hand_least in least:
        assert [age.age_h for age in found.ages] == by_hand_least.offered
        for age in found.ages:
            need, present, absent = by_hand_least.need(age.age_h, found.most_specimens)
            assert age.need == need, age.age_h
            for standing, score, rms in (
                (present, age.score_with, age.rms_with), (absent, age.score_without, age.rms_without)
            ):  # fmt: skip
                assert (score is None) == (standing is None)
                if standing is not None:
                    np.testing.assert_allclose([score, rms], [standing.score_rms, standing.rms], **CLOSE)


def test_bounds_of_the_first_and_the_last_break(least):
    for found, by_hand_least in least:
        told = {bound.which: (bound.age_h, bound.is_free) for bound in found.bounds}
        wanted = {which: by_hand_least.bound(which) for which in ("first break", "last break")}
        assert told == {which: bound for which, bound in wanted.items() if bound is not None}


def test_price_of_a_constraint(least):
    for found, by_hand_least in least:
        free = by_hand_least.restricted.standing(np.ones(len(by_hand_least.n), dtype=bool))
        fewest = by_hand_least.fewest_specimens(np.ones(len(by_hand_least.n), dtype=bool))
        early = by_hand_least.offered[1:3]
        for constraint, age in zip(found.constraints, early, strict=False):
            assert constraint.name == f"no break before {NAMES.get(age, f'{age:g} h')}"
            allowed = by_hand_least.first >= age
            standing, least_n = by_hand_least.restricted.standing(allowed), by_hand_least.fewest_specimens(allowed)
            if standing is None:
                assert (constraint.standing, constraint.rms_more) == (None, None)
                continue
            np.testing.assert_allclose(constraint.rms_more, standing.rms - free.rms, atol=1e-6)
            assert constraint.fewest_specimens == (None if least_n is None else least_n.schedule.n)
            if least_n is not None and fewest is not None:
                assert constraint.specimens_more == least_n.schedule.n - fewest.schedule.n
                more = cost_by_hand(least_n.schedule) - cost_by_hand(fewest.schedule)
                np.testing.assert_allclose(constraint.cost_more, more, atol=1e-6)
