"""Resampled and closed figures: the control variate, the noise identity, and their agreement."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.choices import choice_set
from planner.evidence import tabulate
from planner.resampling import Draws, Scoring, figures_of, joints_of, resample_choice
from planner.resampling.errors import arithmetic, draws
from planner.resampling.errors.closed_form import closed_figures
from planner.terms.plan.settings import Prior
from tests.laws.invented import programme, settings

POSITIONS, SPECIMENS = (0, 2, 4), (2, 3, 2)


def prepared(records, asked):
    cells = tabulate(records, asked)
    choices = choice_set(cells.ages_h, [(POSITIONS, SPECIMENS)])
    return cells, Scoring.of(cells, asked.target), choices, joints_of(asked.curves, cells.settings)


@pytest.mark.parametrize("which", [0, 2])  # a hyperbola, and a curve that is linear in the means
def test_the_control_variate_is_unbiased(which):
    # 4,000 draws; the plain mean of the drawn squares and the controlled one differ by the error of the
    # plain one alone, so 4 standard errors: false alarm 6e-5.
    asked = settings()
    cells, scoring, choices, joints = prepared(programme(n_companions=4), asked)
    drawn = Draws(cells, n_draws=4000, seed=5)
    shown = resample_choice(cells, choices, 0, joints[which], drawn)
    plain = (shown.drawn**2) @ scoring.weight / cells.n_units
    excess = (shown.drawn**2 - shown.linear**2) @ scoring.weight / cells.n_units
    closed = (shown.error**2 + shown.schedule_variance) @ scoring.weight / cells.n_units
    assert abs(plain.mean() - excess.mean() - closed) < 4 * plain.std() / np.sqrt(4000)
    assert excess.std() < 0.5 * plain.std()


def test_linear_curves_need_no_draws():
    cells, scoring, choices, joints = prepared(programme(), settings())
    shown = resample_choice(cells, choices, 0, joints[2], Draws(cells, n_draws=200, seed=5))
    np.testing.assert_allclose(shown.drawn, shown.linear, atol=1e-12)
    assert figures_of(cells, scoring, shown).monte_carlo_se < 1e-10


def test_what_draws_add_to_first_order_counts_once_and_upwards():
    # Errors known by hand: every draw's square is .0009 above what first order makes of it.
    cells, scoring, choices, joints = prepared(programme(n_batches=3), settings())
    shown = resample_choice(cells, choices, 0, joints[2], Draws(cells, n_draws=50, seed=5))
    n = len(shown.error)
    linear = np.full(shown.linear.shape, 0.04)
    by_hand = replace(
        shown, error=np.full(n, 0.05), schedule_variance=np.full(n, 4e-4), prior_variance=np.full(n, 1e-4),
        linear=linear, drawn=np.sqrt(linear**2 + 9e-4),
    )  # fmt: skip
    found = figures_of(cells, scoring, by_hand)
    np.testing.assert_allclose(found.rms_measured, np.sqrt(0.05**2 + 4e-4 - 1e-4 + 9e-4))
    truth = scoring.weight @ scoring.truth_variance / cells.n_units
    np.testing.assert_allclose(found.rms, np.sqrt(0.05**2 + 4e-4 - 1e-4 + 9e-4 - truth))


def test_the_worst_batch_is_the_farthest_off_whatever_its_sign():
    cells, scoring, choices, joints = prepared(programme(n_batches=3), settings())
    shown = resample_choice(cells, choices, 0, joints[2], Draws(cells, n_draws=50, seed=5))
    by_unit = np.array([0.05, -0.30, 0.10])
    found = figures_of(cells, scoring, replace(shown, error=by_unit[cells.check_unit]))
    assert (found.worst_batch.batch, found.worst_batch.error) == (cells.unit_names[1], -0.30)
    assert found.worst_over_prediction is not None
    assert (found.worst_over_prediction.batch, found.worst_over_prediction.error) == (cells.unit_names[2], 0.10)


def test_closed_and_resampled_figures_agree():
    # Normal draws from a stated CV of 3 %, 4,000 of them: quantiles within some 3 %, shares within 0.02.
    asked = settings(prior=Prior(standard_curing_c=20.0, within_test_cv=0.03))
    cells, scoring, choices, joints = prepared(programme(n_batches=6), asked)
    drawn = Draws(cells, n_draws=4000, seed=6)
    for j in (0, 2):
        resampled = figures_of(cells, scoring, resample_choice(cells, choices, 0, joints[j], drawn))
        closed = closed_figures(cells, scoring, choices, np.array([0]), np.array([j]), joints)
        np.testing.assert_allclose(closed.rms[0], resampled.rms, rtol=0.03)
        np.testing.assert_allclose(closed.bias[0], resampled.bias, atol=0.002)
        np.testing.assert_allclose(closed.mean_abs[0], resampled.mean_abs, rtol=0.03)
        np.testing.assert_allclose(closed.p95_abs[0], resampled.p95_abs, rtol=0.04)
        np.testing.assert_allclose(closed.within_tolerance[0], resampled.within_tolerance, atol=0.02)


def test_draws_belong_to_batch_age_and_specimen():
    cells = tabulate(programme(), settings())
    few = Draws(cells, n_draws=50, seed=3)
    whole = few.mean_departures(np.array([0, 2, 4]), np.array([2, 3, 2]))
    again = Draws(cells, n_draws=50, seed=3).mean_departures(np.array([4, 5]), np.array([2, 1]))
    np.testing.assert_array_equal(again[:, :, 0], whole[:, :, 2])
    assert not np.array_equal(whole[0], whole[1])
    other = Draws(cells, n_draws=50, seed=4).mean_departures(np.array([0]), np.array([2]))
    assert not np.array_equal(other[:, :, 0], whole[:, :, 0])


def test_many_batches_need_few_draws_of_each(monkeypatch):
    cells = tabulate(programme(), settings())
    monkeypatch.setattr(draws, "MOST_DRAWN", 10 * len(cells.views.batch))
    assert Draws(cells, n_draws=400, seed=3).n_draws == 10
    assert Draws(cells, n_draws=4, seed=3).n_draws == 4


@pytest.mark.parametrize("over_weight", [1.0, 2.0, 5.0])
@pytest.mark.parametrize(("error", "variance"), [(0.05, 0.0004), (-0.05, 0.0004), (0.0, 0.001), (0.02, 0.0)])
def test_the_loss_is_the_integral(over_weight, error, variance):
    # Outside value: the loss integrated over the normal law of variance 2 v by a fine rule.
    deviation = np.sqrt(2 * variance)
    grid = np.linspace(-9, 9, 200_001)
    density = np.exp(-0.5 * grid**2) / np.sqrt(2 * np.pi)
    value = error + deviation * grid
    plain = np.where(value > 0, over_weight, 1.0) * value**2
    wanted = np.sum(plain * density) * (grid[1] - grid[0])
    found = arithmetic.loss(np.array(error), np.array(variance), over_weight=over_weight)
    np.testing.assert_allclose(found, wanted, rtol=1e-4)


@pytest.mark.slow
def test_the_noise_identity_and_the_unbiased_level():
    # 3,000 programmes of one batch, CV 4 %, three prior specimens an age, a schedule of 2, 3 and 2, three
    # companions; the truth is off the curve by 6 %. The mean of e^2 + v(schedule) must be
    # bias^2 + v(prior) + v(schedule) + (1 + bias)^2 CV^2 / m to 6 %, and the level bias^2 + v(schedule)
    # to 6 % of that whole.
    # The mean of e^2 has a standard error of about 2 %: 3 of them, false alarm 0.3 %; fixed seed.
    rng = np.random.default_rng(23)
    cv, m = 0.04, 3
    asked = settings(curves=("hyperbolic",), prior=Prior(standard_curing_c=20.0, within_test_cv=cv))
    records = programme(n_batches=3000, cv=cv, site_factor=1 / 1.06, seed=int(rng.integers(1000)))
    cells, scoring, choices, joints = prepared(records, asked)
    shown = resample_choice(cells, choices, 0, joints[0], Draws(cells, n_draws=1, seed=1))
    resampled = np.mean(shown.error**2 + shown.schedule_variance)
    parts = 0.06**2 + np.mean(shown.prior_variance + shown.schedule_variance) + 1.06**2 * cv**2 / m
    np.testing.assert_allclose(resampled, parts, rtol=0.06)
    level = scoring.level(shown.error, shown.schedule_variance, shown.prior_variance)
    wanted = 0.06**2 + np.mean(shown.schedule_variance)
    assert abs(level.mean() - wanted) < 0.06 * parts
