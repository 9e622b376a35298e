"""The rules that the advice announces: figures by hand, and by simulation that shares no code."""

from __future__ import annotations

import numpy as np
import pytest

from planner.issued_curve.rules.rule_words import NO_LIMITS
from planner.terms.plan.settings import ProgrammeSettings
from planner.terms.results.programme_count import SiteChecks
from planner.verdict.answers.recommendation.site_checks import site_checks


def announced(later_rms: float | None = 0.06, *, companions: int = 4, trial_batches: int = 1) -> SiteChecks:
    return site_checks(
        own_rms=0.03,
        later_rms=later_rms,
        within_test_cv=0.04,
        n_targets=2,
        tolerance=0.10,
        programme=ProgrammeSettings(companions_per_check=companions, n_checks=6, trial_batches=trial_batches),
    )


def test_figures_by_hand() -> None:
    # sd^2 = .06^2 + .04^2 / 4 = .004; within 10 % fails beyond 1.5811 deviations either way: 11.4 %
    found = announced()
    assert found.scatter == pytest.approx(np.sqrt(0.004))
    assert (found.companions_per_check, found.n_checks) == (4, 6)
    assert found.chance_of_false_alarm == pytest.approx(0.1138, abs=1e-4)
    assert "fails 11 % of sound checks" in found.rule
    assert "more than 10.4 % below the reading" in found.rule  # 1.644854 deviations of 6.32 %
    assert "none of the 2 departs by more than 2.24 standard deviations" in found.acceptance
    assert announced(companions=0).companions_per_check == 2


def test_as_many_checks_as_said_find_an_offset_nine_times_in_ten() -> None:
    # 20,000 sequences, seed 7: standard error .0021 at .9, four of them a false alarm in 1 of 16,000 runs
    found = announced()
    assert found.n_checks_to_notice is not None
    assert found.scatter is not None
    z = np.random.default_rng(7).standard_normal((20_000, found.n_checks_to_notice)) - 0.10 / found.scatter
    total, was_low = np.zeros(len(z)), np.zeros(len(z), dtype=bool)
    found_at = np.full(len(z), np.inf)
    for check in range(z.shape[1]):
        total = np.maximum(0.0, total - z[:, check] - 0.5)
        is_low = z[:, check] < -1.645
        is_alarm = (total > 4.0) | (is_low & was_low)
        found_at = np.where(is_alarm & np.isinf(found_at), check + 1, found_at)
        was_low = is_low
    share = np.isfinite(found_at).mean()
    assert share > 0.9 - 0.0085
    assert (found_at < found.n_checks_to_notice).mean() < 0.9 + 0.0085


def test_an_offset_lost_in_the_spread_of_pours_is_never_found() -> None:
    assert announced(2.0).n_checks_to_notice is None


def test_more_trial_batches_alarm_less_at_first() -> None:
    one, three = announced().chance_of_alarm, announced(trial_batches=3).chance_of_alarm
    assert [n for n, _ in one] == [20, 40, 300]
    assert one[0][1] > three[0][1]
    assert "of three trial batches" in announced(trial_batches=3).rule


def test_without_a_later_pour_error_checks_have_no_limits() -> None:
    found = announced(None)
    assert found.rule == NO_LIMITS
    assert (found.scatter, found.chance_of_false_alarm, found.chance_of_alarm) == (None, None, ())
    assert "The calibration is accepted when" in found.acceptance
