"""Readings against conditioning of one dense normal law, a Gaussian process of a library, and limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, DotProduct

from planner.mixed_model import (
    CellMeans,
    GrowthPrior,
    centre,
    estimate_growth_prior,
    information,
    judge_stranger,
    read_pour,
    rescaled,
)
from planner.terms.arrays import FloatArray
from tests.mixed_model.invented_batches import CV, invented_batches, plain_prior

EARLY = CellMeans(
    maturity_h=np.array([4.4, 7.0]), mean_mpa=np.array([10.0, 17.0]), n_specimens=np.array([1.0, 2.0])
)  # fmt: skip
TRIALS = (
    CellMeans(
        maturity_h=np.array([4.2, 8.1, 25.0, 160.0]),
        mean_mpa=np.array([11.0, 26.0, 44.0, 60.0]),
        n_specimens=np.array([3.0, 2.0, 3.0, 2.0]),
    ),
    CellMeans(maturity_h=np.array([6.0]), mean_mpa=np.array([16.0]), n_specimens=np.array([4.0])),
)
READ_AT_H = np.array([6.3, 12.0, 30.0])


def dense_reading(
    prior: GrowthPrior, early: CellMeans | None, trials: tuple[CellMeans, ...], at_h: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation by conditioning the joint normal law of every cell and every reading.

    Unknowns: the centre, and what each trial batch and the pour depart from it; no Woodbury, no updating.
    """
    sets = [*trials, early] if early is not None else [*trials]
    owners = [*range(len(trials)), *(["pour"] if early is not None else [])]
    log_mean, rows, owner, noise = [], [], [], []
    for cells, name in zip(sets, owners, strict=True):
        expected, row = prior.at(cells.maturity_h)
        log_mean += list(np.log(cells.mean_mpa) - expected)
        rows += list(row)
        owner += [name] * len(row)
        noise += list(
            prior.cv_at(cells.maturity_h) ** 2 / cells.n_specimens + prior.departure_variance(cells.maturity_h)
        )
    at_expected, at_rows = prior.at(at_h)
    all_rows = np.array([*rows, *at_rows])
    all_owners = np.array([*owner, *["pour"] * len(at_h)], dtype=object)
    spread = np.diag([prior.scale_sd**2, prior.rate_sd**2])
    same = (all_owners[:, None] == all_owners[None, :]).astype(float)
    covariance = all_rows @ spread @ all_rows.T * (same + 1.0 / prior.n_batches)
    n = len(rows)
    own = covariance[n:, n:] + np.diag(prior.departure_variance(at_h))
    if n == 0:
        return at_expected, np.sqrt(np.diag(own))
    observed = covariance[:n, :n] + np.diag(noise)
    cross = covariance[n:, :n]
    mean = at_expected + cross @ np.linalg.solve(observed, np.array(log_mean))
    return mean, np.sqrt(np.diag(own - cross @ np.linalg.solve(observed, cross.T)))


@pytest.mark.parametrize("early", [None, EARLY])
@pytest.mark.parametrize("n_trials", [0, 1, 2])
@pytest.mark.parametrize("n_batches", [2, 3, 9])
def test_closed_form_equals_the_dense_normal_law(n_batches: int, n_trials: int, early: CellMeans | None) -> None:
    prior = estimate_growth_prior(invented_batches(n_batches, 3))
    reading = read_pour(prior, READ_AT_H, early=early, trials=TRIALS[:n_trials])
    mean, sd = dense_reading(prior, early, TRIALS[:n_trials], READ_AT_H)
    assert reading.log_mpa == pytest.approx(mean, abs=1e-9)
    assert reading.log_sd == pytest.approx(sd, abs=1e-9)


def test_agrees_with_the_gaussian_process_of_a_library() -> None:
    """Level and rate are a linear kernel in the slope: ``s_rate^2 (s_level^2 / s_rate^2 + g g')``."""
    prior = plain_prior()
    between = 1.0 + 1.0 / prior.n_batches
    expected, rows = prior.at(EARLY.maturity_h)
    noise = prior.cv_at(EARLY.maturity_h) ** 2 / EARLY.n_specimens + prior.departure_variance(EARLY.maturity_h)
    kernel = ConstantKernel(between * prior.rate_sd**2) * DotProduct(prior.scale_sd / prior.rate_sd)
    process = GaussianProcessRegressor(kernel, alpha=noise, optimizer=None)
    process.fit(rows[:, 1:], np.log(EARLY.mean_mpa) - expected)
    at_expected, at_rows = prior.at(READ_AT_H)
    mean, sd = process.predict(at_rows[:, 1:], return_std=True)
    reading = read_pour(prior, READ_AT_H, early=EARLY)
    assert reading.log_mpa == pytest.approx(at_expected + mean, abs=1e-9)
    assert reading.log_sd == pytest.approx(np.sqrt(sd**2 + prior.departure_variance(READ_AT_H)), abs=1e-9)


def test_one_early_break_of_level_alone_by_hand() -> None:
    """Without rate and departures the weight of a mean is s^2 / (s^2 + CV^2 / n), its rest what is left of it."""
    base = plain_prior(n_batches=1000000)
    prior = GrowthPrior(
        curve=base.curve, scale_sd=0.08, rate_sd=1e-9, departure_sd=1e-9, knot_cv=np.full(7, 0.06),
        knot_noise=np.zeros(7), n_batches=1000000, n_freedom=5.0,
    )  # fmt: skip
    expected, _ = prior.at(np.array([4.0, 24.0]))
    early = CellMeans(
        maturity_h=np.array([4.0]), mean_mpa=np.exp(expected[:1]) * 1.2, n_specimens=np.array([3.0])
    )  # fmt: skip
    reading = read_pour(prior, [24.0], early=early)
    weight = 0.08**2 / (0.08**2 + 0.06**2 / 3)
    assert reading.log_mpa[0] - expected[1] == pytest.approx(weight * np.log(1.2), abs=1e-6)
    assert reading.log_sd[0] == pytest.approx(np.sqrt(0.08**2 * (1 - weight)), rel=1e-5)


def test_records_alone_read_their_own_mean_curve() -> None:
    prior = plain_prior()
    reading = read_pour(prior, READ_AT_H)
    expected, rows = prior.at(READ_AT_H)
    assert reading.log_mpa == pytest.approx(expected, abs=1e-12)
    spread = (prior.scale_sd**2 + prior.rate_sd**2 * rows[:, 1] ** 2) * (1 + 1 / 6)
    assert reading.log_sd**2 == pytest.approx(spread + prior.departure_variance(READ_AT_H), rel=1e-12)


def test_a_trial_batch_known_exactly_counts_as_one_batch_more() -> None:
    """Its (alpha, beta) is then known as those of the records are: the centre moves by 1 / (B + 1) of it."""
    base = plain_prior()
    prior = GrowthPrior(
        curve=base.curve, scale_sd=base.scale_sd, rate_sd=base.rate_sd, departure_sd=1e-8, knot_cv=np.full(7, 1e-7),
        knot_noise=np.zeros(7), n_batches=6, n_freedom=6.0,
    )  # fmt: skip
    maturity = np.array([4.0, 8.0, 24.0])
    expected, rows = prior.at(maturity)
    true = np.array([0.10, -0.15])
    trial = CellMeans(maturity_h=maturity, mean_mpa=np.exp(expected + rows @ true), n_specimens=np.full(3, 3.0))
    about = centre(prior, [information(prior, trial)])
    assert about.mean == pytest.approx(true / 7, rel=1e-4)
    assert about.covariance == pytest.approx(prior.spread / 7, rel=1e-4, abs=1e-9)


def test_bounds_are_quantiles_of_student() -> None:
    prior = plain_prior()
    reading = read_pour(prior, READ_AT_H, early=EARLY)
    t = stats.t(prior.n_freedom)
    assert reading.strength_mpa == pytest.approx(np.exp(reading.log_mpa))
    assert reading.safe_mpa(0.9) == pytest.approx(np.exp(reading.log_mpa - t.ppf(0.9) * reading.log_sd))
    low, high = reading.interval_mpa(0.9)
    assert low == pytest.approx(np.exp(reading.log_mpa - t.ppf(0.95) * reading.log_sd))
    assert high == pytest.approx(np.exp(reading.log_mpa + t.ppf(0.95) * reading.log_sd))
    assert np.all(reading.safe_mpa(0.99) < reading.safe_mpa(0.9))


@pytest.mark.parametrize("level", [0.0, 1.0, -0.1])
def test_an_assurance_is_a_share(level: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        read_pour(plain_prior(), READ_AT_H).safe_mpa(level)


@pytest.mark.parametrize("name", ["maturity_h", "mean_mpa", "n_specimens"])
def test_cells_must_be_above_nothing(name: str) -> None:
    arrays = {"maturity_h": np.ones(2), "mean_mpa": np.ones(2), "n_specimens": np.ones(2)}
    with pytest.raises(ValueError, match=name):
        CellMeans(**(arrays | {name: np.array([1.0, 0.0])}))


def test_cells_are_rows_of_one_length() -> None:
    with pytest.raises(ValueError, match="one length"):
        CellMeans(maturity_h=np.ones(2), mean_mpa=np.ones(3), n_specimens=np.ones(2))


def test_rescaled_curve_by_hand() -> None:
    """Breaks 10 % and 20 % above the curve with weights 1 and 3: ln 1.1 / 4 + 3 ln 1.2 / 4 everywhere."""
    shifted = rescaled(np.log([20.0, 40.0]), np.log([10.0, 15.0]), np.log([11.0, 18.0]), [1.0, 3.0])
    assert shifted - np.log([20.0, 40.0]) == pytest.approx(np.full(2, (np.log(1.1) + 3 * np.log(1.2)) / 4))


def test_stranger_distance_equals_the_dense_law() -> None:
    prior = plain_prior(n_batches=9)
    expected, rows = prior.at(EARLY.maturity_h)
    covariance = rows @ prior.spread @ rows.T * (1 + 1 / 9) + np.diag(
        prior.cv_at(EARLY.maturity_h) ** 2 / EARLY.n_specimens + prior.departure_variance(EARLY.maturity_h)
    )
    difference = np.log(EARLY.mean_mpa) - expected
    outcome = judge_stranger(prior, centre(prior), EARLY)
    assert outcome.distance == pytest.approx(difference @ np.linalg.inv(covariance) @ difference / 2, rel=1e-9)
    assert outcome.limit == pytest.approx(stats.f(2, 8).ppf(0.99), rel=1e-9)


@pytest.mark.parametrize(("factor", "is_stranger"), [(1.0, False), (0.45, True), (2.2, True)])
def test_strangers_either_way(factor: float, is_stranger: bool) -> None:
    prior = plain_prior(n_batches=9)
    expected, _ = prior.at(np.array([4.0]))
    early = CellMeans(
        maturity_h=np.array([4.0]), mean_mpa=np.exp(expected) * factor, n_specimens=np.array([2.0])
    )  # fmt: skip
    assert judge_stranger(prior, centre(prior), early).is_stranger is is_stranger


def test_few_batches_cannot_tell_a_stranger() -> None:
    early = CellMeans(maturity_h=np.array([4.0]), mean_mpa=np.array([0.1]), n_specimens=np.array([2.0]))
    five, six = plain_prior(n_batches=5), plain_prior(n_batches=6)
    assert judge_stranger(five, centre(five), early).is_stranger is None
    assert judge_stranger(six, centre(six), early).is_stranger is True


def test_noticed_deficit_is_noticed_nine_times_in_ten() -> None:
    """20,000 pours that lack it (seed 4), variances as badly known as B - 1 say.

    Within four standard errors: a false alarm in 1 of 16,000 runs.
    """
    prior = plain_prior(n_batches=9)
    outcome = judge_stranger(prior, centre(prior), EARLY)
    _, rows = prior.at(EARLY.maturity_h)
    noise = prior.cv_at(EARLY.maturity_h) ** 2 / EARLY.n_specimens + prior.departure_variance(EARLY.maturity_h)
    covariance = rows @ prior.spread @ rows.T * (1 + 1 / 9) + np.diag(noise)
    rng = np.random.default_rng(4)
    draws = rng.multivariate_normal(np.full(2, np.log1p(-outcome.noticed_deficit)), covariance, 20000)
    squares = np.einsum("ni,ij,nj->n", draws, np.linalg.inv(covariance), draws) / 2
    misjudged = rng.chisquare(8, 20000) / 8
    assert np.mean(squares / misjudged > outcome.limit) == pytest.approx(0.9, abs=4 * np.sqrt(0.09 / 20000))


def test_sound_pours_are_seldom_strangers() -> None:
    """300 records of nine batches and ten pours each (seed 21): about 1 % alarms, at most 3 %."""
    n_alarms = 0
    for seed in range(300):
        batches = invented_batches(19, 2100 + seed)
        prior = estimate_growth_prior(batches.without(range(9, 19)))
        for b in range(9, 19):
            early = CellMeans(
                maturity_h=batches.maturity_h[b, :2],
                mean_mpa=batches.mean_mpa[b, :2],
                n_specimens=batches.n_specimens[b, :2],
            )
            n_alarms += judge_stranger(prior, centre(prior), early).is_stranger is True
    assert 0.002 <= n_alarms / 3000 <= 0.03


def test_scatter_between_knots_is_straight_in_log_maturity() -> None:
    prior = plain_prior()
    middle = np.exp(0.5 * (np.log(12.0) + np.log(24.0)))
    assert prior.cv_at([1.0, middle, 1000.0]) == pytest.approx([CV[0], 0.5 * (CV[3] + CV[4]), CV[-1]])
