"""Checks of later pours against the normal law, by hand and by drawing."""

from __future__ import annotations

import numpy as np
import pytest

from planner.verdict.answers.site_checks import site_checks


def test_by_hand() -> None:
    # scatter^2 = .06^2 + .04^2 / 4 = .004; (2.926396 x .063246 / .1)^2 = 3.43 -> 4 checks
    found = site_checks(later_rms=0.06, within_test_cv=0.04, companions_per_check=4, n_checks=6, tolerance=0.10)
    assert found.scatter == pytest.approx(np.sqrt(0.004))
    assert found.n_checks_to_notice == 4
    assert found.n_checks == 6
    # beyond 1.5811 deviations either way: 11.4 %
    assert found.chance_of_false_alarm == pytest.approx(0.1138, abs=1e-4)
    assert "4 checks in a row" in found.rule


def test_as_many_checks_as_said_notice_nine_times_in_ten() -> None:
    found = site_checks(later_rms=0.08, within_test_cv=0.05, companions_per_check=3, n_checks=0, tolerance=0.10)
    n = found.n_checks_to_notice
    limit = 1.644854 * found.scatter / np.sqrt(n)
    # seed 7; the share's deviation is 0.0021 over 20,000 draws, so a false alarm is below one in a million
    means = np.random.default_rng(7).normal(0.0, found.scatter, (20_000, n)).mean(axis=1)
    assert (means > limit).mean() == pytest.approx(0.05, abs=0.011)
    assert (means + 0.10 > limit).mean() > 0.89


def test_batches_too_different_to_check_are_told_so() -> None:
    found = site_checks(later_rms=0.3, within_test_cv=0.05, companions_per_check=0, n_checks=0, tolerance=0.10)
    assert found.companions_per_check == 2
    assert found.n_checks_to_notice > 20
    assert "more trial batches" in found.rule
