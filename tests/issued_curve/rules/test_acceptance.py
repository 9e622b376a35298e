"""Acceptance of a calibration: known answers, and how often it is wrong."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from planner.issued_curve.rules.acceptance import Verdict, accept, sound_refused_at_most, z_limit
from planner.issued_curve.rules.companions import Companions, comparison_sd
from planner.issued_curve.rules.customary_rule import customary_rule
from tests.issued_curve.checks import companions

OWN, CV = 0.035, 0.03


def judged(*items: Companions, own: float = OWN, cv: float = CV, tolerance: float = 0.10):
    return accept(items, own_rms=own, within_test_cv=[cv] * len(items), tolerance=tolerance)


def test_deviation_of_a_check_is_reading_and_scatter_together() -> None:
    # sqrt(.035^2 + .03^2 / 3) = .0390512, by hand
    assert comparison_sd(reading_rms=0.035, within_test_cv=0.03, n_specimens=3) == pytest.approx(0.0390512, abs=5e-8)


def test_limits_for_one_and_more_groups() -> None:
    # 1.959964 for one; for k groups the two-sided quantile of 1 - .95^(1/k): 2.236477, 2.490915 for 2 and 4 (derived)
    assert [round(z_limit(k), 6) for k in (1, 2, 4)] == [1.959964, 2.236477, 2.490915]
    with pytest.raises(ValueError, match="one group of companions or more"):
        z_limit(0)


def test_companions_that_agree_issue_the_curve() -> None:
    found = judged(companions(0.02), companions(-0.03, age_h=24.0))
    assert found.verdict is Verdict.ISSUE
    assert found.mean_difference == pytest.approx(-0.005)
    assert [check.z for check in found.checks] == pytest.approx([0.02 / 0.0390512, -0.03 / 0.0390512], rel=1e-5)
    assert found.break_more == ()


def test_one_group_far_off_repeats_the_batch() -> None:
    found = judged(companions(0.0), companions(-0.19, age_h=24.0))
    assert found.verdict is Verdict.REPEAT  # z -4.9; the mean, -9.5 %, is inside
    assert found.is_mean_inside
    assert [check.is_within_limit for check in found.checks] == [True, False]


def test_a_group_just_beyond_the_limit_asks_for_more_companions() -> None:
    found = judged(companions(0.0, n=2), companions(-0.17, n=2, age_h=24.0), own=0.02, cv=0.10)
    # sd sqrt(.02^2 + .1^2 / 2) = .0735, z -2.31 beyond 2.236; scatter makes most of it
    assert found.verdict is Verdict.BREAK_MORE
    assert [item.age_h for item in found.break_more] == [24.0]


def test_chance_to_turn_equals_simulated_chance() -> None:
    # 4,000,000 draws, seed 3, of which about 6,000 begin alike: standard error at most .0065, and beyond four of them
    # a false alarm in less than 1 of 16,000 runs
    rng = np.random.default_rng(3)
    found = judged(companions(-0.17, n=2), own=0.02, cv=0.10)
    own = rng.normal(0, 0.02, 4_000_000)
    first = own + rng.normal(0, 0.10 / sqrt(2), own.size)
    alike = np.abs(first + 0.17) < 0.002
    again = own[alike] + rng.normal(0, 0.10 / sqrt(2), alike.sum())
    share = np.mean(np.abs((first[alike] + again) / 2) <= 1.959964 * sqrt(0.02**2 + 0.10**2 / 4))
    assert found.checks[0].chance_to_turn == pytest.approx(share, abs=4 * sqrt(0.25 / alike.sum()))


def test_mean_outside_the_tolerance_refuses_what_chance_would_explain() -> None:
    found = judged(companions(-0.11), companions(-0.11, age_h=24.0), own=0.08)
    assert all(check.is_within_limit for check in found.checks)
    assert not found.is_mean_inside
    assert found.verdict is Verdict.BREAK_MORE
    assert [item.age_h for item in found.break_more] == [12.0, 24.0]
    assert judged(companions(-0.18), companions(-0.18, age_h=24.0), own=0.12, cv=0.01).verdict is Verdict.REPEAT


def test_placements_average_inside_their_target_first() -> None:
    found = judged(companions(0.06), companions(0.0), companions(-0.03, age_h=24.0))
    assert found.mean_difference == pytest.approx((0.03 - 0.03) / 2, abs=1e-12)


def test_scatter_of_the_mean_counts_placements_and_targets() -> None:
    # no error of the curve; two places of 3 at 6 h, one of 3 at 24 h, scatter 9 %: variance (.0027 / 2 + .0027) / 4
    found = judged(
        companions(0.0, age_h=6.0), companions(0.0, age_h=6.0), companions(0.0, age_h=24.0), own=0.0, cv=0.09
    )
    assert found.sound_refused_at_most == pytest.approx(
        sound_refused_at_most(own_rms=0.0, scatter=(0.0027 / 2 + 0.0027) / 4, tolerance=0.10), abs=1e-12
    )


def test_tolerance_at_one_group_is_information_only() -> None:
    found = judged(companions(-0.12), companions(0.0, age_h=24.0), own=0.06)
    assert found.verdict is Verdict.ISSUE
    assert [check.is_inside_tolerance for check in found.checks] == [False, True]


def test_without_companions_at_a_target_nothing_is_accepted() -> None:
    assert judged().verdict is Verdict.NOT_JUDGED
    assert judged(companions(0.0, is_target=False)).verdict is Verdict.NOT_JUDGED
    assert judged(companions(-0.30, is_target=False)).verdict is Verdict.REPEAT


def test_companions_outside_the_breaks_are_shown_and_not_judged() -> None:
    found = judged(companions(0.0), companions(-0.5, age_h=24.0, is_inside=False))
    assert found.verdict is Verdict.ISSUE
    assert [check.is_judged for check in found.checks] == [True, False]
    assert found.z_limit == pytest.approx(1.959964, abs=1e-6)
    assert found.mean_difference == 0.0


@pytest.mark.parametrize("hang_together", [0.0, 0.5, 1.0])
def test_sound_calibrations_are_refused_no_more_often_than_said(hang_together: float) -> None:
    # 4,000 calibrations, seed 8, standard error .0034 at .05: a false alarm beyond four of them in 1 of 30,000 runs
    rng = np.random.default_rng(8)
    n_runs, ages = 4000, (6.0, 12.0, 24.0)
    own, cv, n = 0.05, 0.04, 3
    common = rng.normal(0, 1, (n_runs, 1))
    alone = rng.normal(0, 1, (n_runs, len(ages)))
    differences = own * (sqrt(hang_together) * common + sqrt(1 - hang_together) * alone)
    differences = differences + rng.normal(0, cv / sqrt(n), differences.shape)
    refused = 0
    for row in differences:
        found = judged(*(companions(d, n=n, age_h=age) for d, age in zip(row, ages, strict=True)), own=own, cv=cv)
        refused += found.verdict is not Verdict.ISSUE
    bound = found.sound_refused_at_most
    assert refused / n_runs <= bound + 4 * sqrt(bound * (1 - bound) / n_runs)
    if hang_together == 0.0:  # then the limit is exact and the tolerance hardly ever decides
        assert refused / n_runs == pytest.approx(0.05, abs=4 * sqrt(0.05 * 0.95 / n_runs) + 0.003)


def test_chance_of_refusal_by_hand() -> None:
    # own 5 %, no scatter, tolerance 10 %: .05 + 2 Phi(-2) = .05 + .0455003
    assert sound_refused_at_most(own_rms=0.05, scatter=0.0, tolerance=0.10) == pytest.approx(0.0955003, abs=1e-7)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"within_test_cv": [0.03, 0.03]}, "need as many scatters"),
        ({"tolerance": 0.0}, "tolerance lies between 0 and 1"),
        ({"own_rms": -0.1}, "errors not below 0"),
        ({"own_rms": 0.0, "within_test_cv": [0.0]}, "above 0, given 0 and 0"),
    ],
)
def test_impossible_figures_are_refused(given: dict[str, object], message: str) -> None:
    sound: dict[str, object] = {"own_rms": OWN, "within_test_cv": [CV], "tolerance": 0.10}
    with pytest.raises(ValueError, match=message):
        accept([companions()], **(sound | given))  # type: ignore[arg-type]


def test_impossible_companions_are_refused() -> None:
    with pytest.raises(ValueError, match="n_specimens 0"):
        companions(n=0)
    with pytest.raises(ValueError, match="broken_mpa"):
        companions(-1.0)


def test_customary_rule_fails_and_passes_as_often_as_derived() -> None:
    # derived: at 9.06 % one sound check in 3.7 fails, 13.5 % low, twice running low 1.8 %, three times .24 %
    rule = customary_rule(0.0906)
    assert rule.false_alarm == pytest.approx(0.27, abs=0.001)
    assert rule.false_alarm_low == pytest.approx(0.135, abs=0.0005)
    assert rule.low_twice == pytest.approx(0.018, abs=0.0005)
    assert rule.low_three_times == pytest.approx(0.0024, abs=0.0001)
    # passed although 15 % too high: Phi(-.05 / .0906) - Phi(-.25 / .0906) = .29052 - .00290
    assert rule.miss == pytest.approx(0.2876, abs=2e-4)
    with pytest.raises(ValueError, match="lies above 0"):
        customary_rule(0.0)
