"""Headline figures of small plans against the same figures worked out from the tables by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.read import load_plan
from planner.steps import whole_calibration
from tests.oracle.plain.bounds import safe_factor, share_inside_lower_at
from tests.oracle.plain.candidates import Limits
from tests.oracle.plain.figures import (
    assembled,
    level_of,
    own_batch_figures,
    rms_of,
    rms_upper_95,
    shares_of,
    worst_signed,
)
from tests.oracle.plain.later_pours import (
    batch_equivalents,
    later_pour_figures,
    later_rms_by_target,
    pairs_of,
    used_of_pair,
)
from tests.oracle.plain.programmes import is_own_batch, judge_row, readings
from tests.oracle.plain.rule import bootstrap_mean_square, folds, pick
from tests.oracle.plain.sufficiency import answer
from tests.oracle.plain.taken import scores, take
from tests.oracle.small_plans import AGES_H, Asked, by_hand, from_scenario, invent, write_plan

CLOSE = {"rtol": 2e-5, "atol": 1e-9}  # the program keeps levels and variances in single precision

RUNWAY_H = (4.0, 6.0, 8.0, 12.0, 24.0, 72.0)
TUNNEL_H = (8.0, 14.0, 18.0, 72.0)
ONE_TARGET = Asked(Limits(AGES_H, 3, 4, (2, 3), 10), (12.0,), final_set_h=3.0)
PLANS = {
    # name: the plan, and what its tables are invented from or the demo programme they are of
    "cool and warm nights": (ONE_TARGET, {"seed": 1, "n_batches": 5, "target_h": 12.0, "n_each": 3}),
    "halved cells": (
        Asked(
            Limits(AGES_H, 3, 3, (1, 3), 6, shares=(0.25, 0.75)), (12.0, 24.0), q_k=(5000.0,), curves=("logarithmic",)
        ),
        {"seed": 4, "n_batches": 4, "target_h": 12.0, "n_each": 4},
    ),
    "no companions": (
        Asked(Limits(AGES_H, 2, 3, (1, 4), 9), (24.0,), q_k=(5000.0,), curves=("piecewise linear", "logarithmic")),
        {"seed": 3, "n_batches": 6, "target_h": 24.0, "n_each": 3, "site": False},
    ),
    "over-prediction counts three times": (
        Asked(Limits(AGES_H, 3, 4, (1, 2), 7, over_weight=3.0), (12.0,), q_k=(5000.0,), final_set_h=3.0),
        {"seed": 6, "n_batches": 4, "target_h": 12.0, "n_each": 2},
    ),
    "the worst target": (
        Asked(
            Limits(AGES_H, 3, 3, (1, 3), 8, shares=(0.5, 0.5), is_worst=True), (12.0, 72.0), q_k=(4000.0,),
            curves=("logarithmic",),
        ),
        {"seed": 7, "n_batches": 4, "target_h": 12.0, "n_each": 3},
    ),
    "ages that some batches lack": (
        Asked(Limits(AGES_H, 3, 4, (2, 3), 9), (12.0,), q_k=(5000.0,), final_set_h=3.0),
        {
            "seed": 9, "n_batches": 6, "target_h": 12.0, "n_each": 3,
            "missing": (("B2", 24.0), ("B5", 72.0), ("B6", 6.0)),
        },
    ),
    "runway at 6 h": (
        Asked(
            Limits(RUNWAY_H, 3, 3, (2, 4), 10, least_strength_mpa=3.0), (6.0,), q_k=(4000.0, 5000.0), datum_c=(0.0,),
            final_set_h=1.5,
        ),
        {"scenario": "runway-panels"},
    ),
    "runway at four ages": (
        Asked(
            Limits((*RUNWAY_H, 672.0), 4, 4, (2, 3), 10, least_strength_mpa=3.0, shares=(0.25, 0.25, 0.25, 0.25)),
            (6.0, 12.0, 24.0, 72.0), q_k=(5000.0,), final_set_h=1.5,
        ),
        {"scenario": "runway-panels"},
    ),
    "waiting for two strengths": (
        Asked(
            Limits(AGES_H, 3, 4, (2, 3), 9, shares=(0.5, 0.5)), (13.0, 24.0), q_k=(5000.0,), datum_c=(0.0,),
            curves=("logarithmic",), strengths_mpa=(15.0, 25.0),
        ),
        {"seed": 8, "n_batches": 5, "target_h": 12.0, "n_each": 3},
    ),
    "tunnel at 14 h": (
        Asked(
            Limits(TUNNEL_H, 3, 3, (2, 3), 8, least_strength_mpa=3.0, minimum_gap_h=2.0), (14.0,),
            curves=("logarithmic", "hyperbolic"), q_k=(5000.0,), final_set_h=5.0,
        ),
        {"scenario": "tunnel-segments"},
    ),
}  # fmt: skip


@pytest.fixture(scope="module", params=PLANS)
def both(request, tmp_path_factory):
    """The program's answer, and every choice by hand with what the rule takes without each unit."""
    asked, invented = PLANS[request.param]
    folder = tmp_path_factory.mktemp("plan")
    (from_scenario if "scenario" in invented else invent)(folder, **invented)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(whole_calibration, "constants_study", lambda *_: None)  # see test_waiting_and_constants.py
        advice = recommend(load_plan(write_plan(folder, asked)), n_draws=800, workers=1)
    candidates = by_hand(folder, asked)
    taken = [take(candidates, unit) for unit in range(len(candidates.study.units))]
    return advice, candidates, folds(candidates), [candidates.of(each.row) for each in taken]


@pytest.fixture(scope="module")
def of_pair(both):
    """What the rule takes without each trial batch and pour."""
    return used_of_pair(both[1])


def test_the_same_choices_are_scored(both):
    stated, candidates, *_ = both
    assert stated.search.n_joint_choices == len(candidates.loss)
    wanted = {}
    for row, loss in enumerate(np.nanmean(candidates.loss, axis=1)):  # over the batches that hold its ages
        schedule, _ = candidates.of(row)
        wanted[schedule.ages_h, schedule.counts] = min(loss, wanted.get((schedule.ages_h, schedule.counts), np.inf))
    found = dict(zip(((s.ages_h, s.specimens) for s in stated.choices.schedules), stated.choices.score, strict=True))
    assert found.keys() == wanted.keys()
    np.testing.assert_allclose([found[key] for key in wanted], list(wanted.values()), rtol=1e-6)


def test_best_and_recommended(both):
    stated, candidates, *_ = both
    lowest, taken = pick(candidates, list(range(len(candidates.study.units)))), take(candidates)
    assert stated.spending.is_enough == taken.is_enough
    for found, row in ((stated.best, lowest.best), (stated.recommended, taken.row)):
        schedule, joint = candidates.of(row)
        assert (found.schedule.ages_h, found.schedule.specimens) == (schedule.ages_h, schedule.counts)
        assert (found.curve, found.weighting) == candidates.joints[joint][:2]
        at = assembled(candidates, [(schedule, joint)] * len(candidates.study.units))
        np.testing.assert_allclose(found.error.rms, rms_of(candidates, at), rtol=0.01)  # resampled
        np.testing.assert_allclose(found.score, np.nanmean(candidates.loss[row]), rtol=1e-6)


def test_recommended_programme(both):
    stated, candidates, *_ = both
    taken, found = take(candidates), stated.spending.recommended
    assert found.n_trial_batches == 1
    assert (found.schedule.ages_h, found.schedule.specimens) == (
        stated.recommended.schedule.ages_h, stated.recommended.schedule.specimens
    )  # fmt: skip
    assert stated.spending.n_tied == taken.n_tied
    if stated.spending.judged_on == "own batch":
        assert is_own_batch(candidates)
        np.testing.assert_allclose(found.own_batch_rms, taken.judged.rms, **CLOSE)
        np.testing.assert_allclose(found.own_batch_within_tolerance, taken.judged.share, **CLOSE)
        return
    later = found.next_batch
    for name, wanted in (
        ("rms", taken.judged.rms), ("within_tolerance", taken.judged.share),
        ("over_predicted_beyond_tolerance", taken.judged.beyond),
    ):  # fmt: skip
        np.testing.assert_allclose(getattr(later, name), wanted, err_msg=name, **CLOSE)


def test_every_programme_listed(both):
    stated, candidates, *_ = both
    for found in stated.spending.programmes:
        row = next(
            row
            for row in range(len(candidates.loss))
            if (candidates.of(row)[0].ages_h, candidates.of(row)[0].counts)
            == (found.schedule.ages_h, found.schedule.specimens)
            and candidates.joints[candidates.of(row)[1]][:2] == (found.curve, found.weighting)
            and np.isclose(scores(candidates)[row], lowest_loss(candidates, row))
        )
        if stated.spending.judged_on == "own batch":
            judged = judge_row(candidates, row)
            np.testing.assert_allclose(found.own_batch_rms, judged.rms, **CLOSE)
            continue
        if found.n_trial_batches > len(readings(candidates, *candidates.of(row))[0].error):
            continue
        judged = judge_row(candidates, row, m=found.n_trial_batches)
        np.testing.assert_allclose(found.next_batch.rms, judged.rms, **CLOSE)
        np.testing.assert_allclose(found.next_batch.within_tolerance, judged.share, **CLOSE)


def lowest_loss(candidates, row):
    """Of the row's schedule, over all curves and constants."""
    return scores(candidates)[candidates.schedule_of == candidates.schedule_of[row]].min()


def test_folds(both):
    found, candidates, _, used = both
    at = assembled(candidates, used)
    for fold, (schedule, joint), name, error in zip(
        found.honest.folds, used, candidates.study.units, worst_signed(candidates, at), strict=True
    ):
        assert fold.held_out == name
        assert (fold.schedule.ages_h, fold.schedule.specimens) == (schedule.ages_h, schedule.counts)
        assert (fold.curve, fold.weighting) == candidates.joints[joint][:2]
        np.testing.assert_allclose(fold.error, error, **CLOSE)


@pytest.mark.parametrize(
    ("name", "within"),
    [
        ("nested_rms", CLOSE),
        ("rms_upper_95", CLOSE),
        ("nested_p80_abs", CLOSE),
        ("within_tolerance_lower_95", {"atol": 0.01}),  # the oracle's is drawn
        ("within_tolerance_lower_95_free", CLOSE),
    ],
)
def test_own_batch(both, name, within):
    found, candidates, _, used = both
    np.testing.assert_allclose(
        getattr(found.honest.own_batch, name), own_batch_figures(candidates, used)[name], **within
    )


def test_one_more_batch(both):
    stated, candidates, _, used = both
    at = assembled(candidates, used)
    (gain,) = stated.evidence.more
    for found, n_more in ((gain.bound_now, 0), (gain.bound_after, 1)):
        np.testing.assert_allclose(found, rms_upper_95(candidates, at, n_more=n_more), **CLOSE)


def test_best_nested(both):
    found, candidates, picks, _ = both
    at = assembled(candidates, [candidates.of(each.best) for each in picks])
    np.testing.assert_allclose(found.honest.best_nested_rms, rms_of(candidates, at), **CLOSE)


def test_bootstrap(both):
    found, candidates, _, used = both
    if len(candidates.study.units) > 5:
        pytest.skip("462 worlds and more take long by hand")
    at = assembled(candidates, used)
    floor = level_of(candidates, at)[1]
    wanted = np.sqrt(max(bootstrap_mean_square(candidates), floor))
    # The program repeats the rule among the undominated and the cheap tied choices alone. Over all of them the figure
    # was 4, 1 and 13 % higher here, and the same in the other plans.
    np.testing.assert_allclose(found.honest.own_batch.bootstrap_rms, wanted, rtol=0.15)


@pytest.mark.parametrize("name", ["within_tolerance", "over_predicted_any", "over_predicted_beyond_tolerance"])
def test_own_batch_shares(both, name):
    # Resampled with the seed 1: of 800 draws in each of four batches or more a share has a standard error of
    # .009 at most, so another seed would leave this band in fewer than 1 of 400 plans.
    found, candidates, _, used = both
    wanted = shares_of(candidates, assembled(candidates, used))[name]
    np.testing.assert_allclose(getattr(found.honest.own_batch, name), wanted, atol=0.03)


def test_later_pour(both, of_pair):
    found, candidates, _, used = both
    later = found.honest.next_batch
    for name, wanted in later_pour_figures(candidates, used, of_pair).items():
        within = {"atol": 0.01} if name == "within_tolerance_lower_95" else CLOSE
        np.testing.assert_allclose(getattr(later, name), wanted, err_msg=name, **within)


def test_no_more_is_claimed_of_a_fixed_programme_than_its_share_allows(both):
    found, candidates, _, used = both
    n_batches = len(set(pairs_of(candidates, used).read_on))
    later = found.spending.recommended.next_batch
    if len(found.target_ages_h) > 1:
        assert later.within_tolerance_lower_95 <= share_inside_lower_at(later.within_tolerance, n_batches) + 0.01
    assert 0.0 < later.within_tolerance_lower_95 < later.within_tolerance


def test_safe_reading(both, of_pair):
    found, candidates, _, used = both
    wanted = safe_factor(batch_equivalents(pairs_of(candidates, used, of_pair)), assurance=0.90)
    assert found.honest.safe_reading_basis == "next batch"
    np.testing.assert_allclose(found.honest.safe_reading_factor, wanted, **CLOSE)


def test_each_target(both, of_pair):
    stated, candidates, _, used = both
    at = assembled(candidates, used)
    later = later_rms_by_target(pairs_of(candidates, used, of_pair))
    for target, found in enumerate(stated.honest.per_target):
        if candidates.study.checks[0].variance is None:
            assert found.age_h == candidates.study.targets_h[target]
        # resampled: 800 draws in each of four batches or more have a standard error of 1.25 % at most
        np.testing.assert_allclose(found.nested_rms, rms_of(candidates, at, target=target), rtol=0.035)
        np.testing.assert_allclose(found.rms_upper_95, rms_upper_95(candidates, at, target=target), **CLOSE)
        np.testing.assert_allclose(found.next_batch_rms, later[target], **CLOSE)


def test_how_many_specimens_are_enough(both):
    stated, candidates, *_ = both
    found, wanted = stated.sufficiency, answer(candidates, 0.90)
    assert found.basis == wanted["basis"]
    for name in ("is_reached", "n_specimens", "n_specimens_beyond"):
        assert getattr(found, name) == wanted[name], name
    assert (found.schedule.ages_h, found.schedule.specimens) == (wanted["schedule"].ages_h, wanted["schedule"].counts)
    for name, within in (
        ("rms", CLOSE), ("within_tolerance", CLOSE), ("within_with_endless_specimens", {"atol": 1e-4}),
    ):  # fmt: skip
        np.testing.assert_allclose(getattr(found, name), wanted[name], err_msg=name, **within)
    trials = [(trial.rms, trial.within_tolerance) for trial in found.by_trial_batches]
    assert len(trials) >= len(wanted["by_trial_batches"])
    for trial, by_hand_trial in zip(trials, wanted["by_trial_batches"], strict=False):
        np.testing.assert_allclose(trial, by_hand_trial, **CLOSE)
    assert [trial.n_specimens for trial in found.by_trial_batches] == [
        m * found.schedule.n_specimens for m in (1, 2, 3)[: len(trials)]
    ]
    assert [step.most_specimens for step in found.steps] == [step.most for step in wanted["steps"]]
    for step, by_hand_step in zip(found.steps, wanted["steps"], strict=True):
        assert step.schedule.specimens == by_hand_step.schedule.counts
        np.testing.assert_allclose(step.rms, by_hand_step.rms, **CLOSE)
        np.testing.assert_allclose(step.within_tolerance, by_hand_step.share, **CLOSE)
