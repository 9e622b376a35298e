"""The cubic between two means: against scipy's, exact on straight growth, monotone, with nothing beside."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from planner.evidence.growth_between import along_growth, strength_along

LOGS = np.log([6.0, 12.0, 24.0, 72.0])
MEANS = np.array([10.0, 23.0, 31.0, 40.0])


def without(values, *missing):
    values = np.array(values, dtype=float)
    values[list(missing)] = np.nan
    return values


@pytest.mark.parametrize("missing", [(), (0,), (3,), (0, 3)])
@pytest.mark.parametrize("means", [MEANS, np.array([10.0, 11.0, 31.0, 31.5]), np.array([2.0, 23.0, 26.0, 60.0])])
def test_it_is_scipys_monotone_cubic(missing, means):
    held = [at for at in range(4) if at not in missing]
    theirs = PchipInterpolator(LOGS[held], means[held])
    logs, strengths = without(LOGS, *missing)[:, None], without(means, *missing)
    for wanted in np.linspace(means[1], means[2], 9)[:-1]:
        (at,), (rate,) = along_growth(logs, strengths, wanted)
        assert LOGS[1] <= at <= LOGS[2]
        assert theirs(at) == pytest.approx(wanted, abs=1e-9)
        assert rate == pytest.approx(theirs(at, 1), rel=1e-6)
        assert strength_along(logs, strengths, np.array([at]))[0] == pytest.approx(wanted, abs=1e-9)


def test_an_end_that_would_fall_is_held_flat_and_one_too_steep_is_bent():
    for means in (np.array([0.0, 20.0, 22.0, 60.0]), np.array([0.0, 20.0, 40.0, 10.0])):
        logs, strengths = without(LOGS, 0)[:, None], without(means, 0)
        theirs = PchipInterpolator(LOGS[1:], means[1:])
        at = np.linspace(LOGS[1], LOGS[2], 7)
        ours = [strength_along(logs, strengths, np.array([one]))[0] for one in at]
        np.testing.assert_allclose(ours, theirs(at), rtol=1e-12)
        assert np.all(np.diff(ours) >= 0)


def test_straight_growth_is_read_exactly():
    straight = 5.0 + 9.0 * LOGS
    (at,), (rate,) = along_growth(LOGS[:, None], straight, 28.0)
    assert at == pytest.approx((28.0 - 5.0) / 9.0)
    assert rate == pytest.approx(9.0)


def test_a_hyperbola_is_read_better_than_by_a_line():
    # S = 50 (t - 4) / (t - 4 + 20): 30 MPa at 4 + 20 x 30 / 20 = 34 h (derived)
    ages_h = np.array([12.0, 24.0, 72.0, 168.0])
    means = 50.0 * (ages_h - 4.0) / (ages_h + 16.0)
    (at,), _ = along_growth(np.log(ages_h)[:, None], means, 30.0)
    by_line = np.exp(np.interp(30.0, means, np.log(ages_h)))
    assert by_line > 35.0
    assert abs(np.exp(at) - 34.0) < 0.25 * abs(by_line - 34.0)


def test_every_setting_has_its_own_knots():
    logs = np.stack([LOGS, LOGS + np.array([0.3, 0.1, 0.0, 0.0]), LOGS], axis=1)
    logs[1, 2] = logs[2, 2] + 0.5  # under these constants the weaker mean is the more mature
    at, rate = along_growth(logs, MEANS, 25.0)
    for setting in range(2):
        assert at[setting] == along_growth(logs[:, [setting]], MEANS, 25.0)[0][0]
    assert at[0] != at[1]
    assert at[2] == pytest.approx(logs[1, 2] + 0.25 * (logs[2, 2] - logs[1, 2]))
    assert np.isinf(rate[2])


def test_a_knot_beside_that_is_out_of_order_does_not_count():
    logs = np.stack([LOGS, LOGS], axis=1)
    logs[0, 1], logs[3, 1] = LOGS[1] + 0.1, LOGS[2] - 0.1
    at, _ = along_growth(logs, MEANS, 25.0)
    assert at[1] == pytest.approx(LOGS[1] + 0.25 * (LOGS[2] - LOGS[1]))  # two knots alone make a line
    assert at[0] != at[1]
