"""The arithmetic of errors: by hand, against scipy, and its compiled form against its plain one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from planner.resampling.errors import arithmetic, compiled_arithmetic

ERRORS = st.floats(-0.9, 3.0)
VARIANCES = st.floats(0.0, 0.5)
NEAR = {"rtol": 1e-12, "atol": 1e-15}
NORMAL = {"rtol": 0.0, "atol": 7e-7}  # the compiled normal law ends at five deviations: 2.9e-7 on either side


@settings(deadline=None)  # the first call compiles
@given(ERRORS, VARIANCES, st.sampled_from([1.0, 2.0, 5.0]), st.sampled_from([1.0, 2.0]))
def test_the_compiled_loss_is_the_plain_one(error: float, variance: float, weight: float, factor: float) -> None:
    plain = arithmetic.loss(np.array(error), np.array(variance), over_weight=weight, variance_factor=factor)
    np.testing.assert_allclose(compiled_arithmetic.loss_at(error, variance, weight, factor), plain, **NEAR)


@settings(deadline=None)  # the first call compiles
@given(ERRORS, VARIANCES, VARIANCES, VARIANCES)
def test_the_compiled_level_is_the_plain_one(error: float, own: float, prior: float, truth: float) -> None:
    plain = arithmetic.level(np.array(error), own, prior, truth)
    assert compiled_arithmetic.level_at(error, own, prior, truth) == plain


@settings(deadline=None)  # the first call compiles
@given(VARIANCES, VARIANCES, st.floats(-0.5, 0.5))
def test_the_compiled_narrowing_is_the_plain_one(square: float, second: float, bias: float) -> None:
    plain = arithmetic.narrowing(square, second, bias)
    np.testing.assert_allclose(compiled_arithmetic.narrowing_factor(square, second, bias), plain, **NEAR)
    assert 0.0 <= plain <= 1.0


@settings(deadline=None)  # the first call compiles
@given(ERRORS, st.floats(1e-12, 2.0), st.floats(0.01, 1.0))
def test_the_compiled_shares_are_the_plain_ones(mean: float, deviation: float, tolerance: float) -> None:
    inside, beyond = (f(mean, deviation, tolerance) for f in (arithmetic.share_inside, arithmetic.share_beyond))
    np.testing.assert_allclose(compiled_arithmetic.inside_at(mean, deviation, tolerance), inside, **NORMAL)
    np.testing.assert_allclose(compiled_arithmetic.beyond_at(mean, deviation, tolerance), beyond, **NORMAL)
    # Outside value: scipy's normal law.
    law = stats.norm(mean, deviation)
    np.testing.assert_allclose(inside, law.cdf(tolerance) - law.cdf(-tolerance), atol=1e-12)
    np.testing.assert_allclose(beyond, law.sf(tolerance), atol=1e-12)


@settings(deadline=None)  # the first call compiles
@given(st.integers(0, 2**32 - 1), st.integers(1, 6))
def test_the_compiled_filling_is_the_plain_one(seed: int, n_units: int) -> None:
    generator = np.random.default_rng(seed)
    values, reference = generator.uniform(0.0, 1.0, (5, n_units)), generator.uniform(0.0, 1.0, n_units)
    values[generator.random(values.shape) < 0.3] = np.nan
    reference[1:][generator.random(n_units - 1) < 0.3] = np.nan
    for left_out in range(-1, n_units):
        kept = np.arange(n_units) != left_out
        filled = arithmetic.fill_holes(values[:, kept], reference[kept])
        is_held = ~np.isnan(reference[kept])
        n_shared = (~np.isnan(values[:, kept]) & is_held).sum(axis=1)
        for row in range(5):
            found = compiled_arithmetic.mean_through(values[row], reference, left_out, 2)
            if n_shared[row] < min(2, is_held.sum()) or n_shared[row] == 0:
                assert np.isnan(found)
            else:
                np.testing.assert_allclose(found, filled[row, is_held].mean(), **NEAR)


def test_a_hole_takes_the_lead_over_the_reference() -> None:
    # worse by 0.02 and 0.04 where both hold: 0.03 is added to the reference's 0.10
    values = np.array([[0.07, np.nan, 0.10]])
    np.testing.assert_allclose(arithmetic.fill_holes(values, np.array([0.05, 0.10, 0.06])), [[0.07, 0.13, 0.10]])
    # better by more than the reference has there: no loss is below 0
    values = np.array([[0.01, np.nan]])
    np.testing.assert_allclose(arithmetic.fill_holes(values, np.array([0.50, 0.10])), [[0.01, 0.0]])


def test_a_level_takes_out_the_noise_of_records_and_truth() -> None:
    assert arithmetic.level(np.array(0.1), 0.002, 0.003, 0.001) == pytest.approx(0.008)


def test_the_floor_acts_on_the_means_over_units() -> None:
    level, variance = np.array([-0.02, 0.01]), np.array([0.0009, 0.0007])
    assert arithmetic.floored_square(level, variance) == pytest.approx(0.0008)
    assert arithmetic.floored_rms(level, variance) == pytest.approx(np.sqrt(0.0008))
    assert arithmetic.is_below_resolution(level, variance)
    assert not arithmetic.is_below_resolution(np.array([0.01]), np.array([0.0008]))


def test_narrowed_errors_have_the_wanted_mean_square_and_keep_their_bias() -> None:
    error = np.array([-0.1, 0.0, 0.3, 0.2])
    bias = float(error.mean())
    factor = arithmetic.narrowing(0.02, float((error**2).mean()), bias)
    narrow = arithmetic.narrowed(error, bias, factor)
    assert (narrow**2).mean() == pytest.approx(0.02)
    assert narrow.mean() == pytest.approx(bias)
    assert arithmetic.narrowing(0.5, float((error**2).mean()), bias) == 1.0  # never widened
    assert arithmetic.narrowing(0.005, float((error**2).mean()), bias) == 0.0  # a bias that alone is more


def test_without_scatter_a_reading_is_inside_or_not() -> None:
    np.testing.assert_array_equal(arithmetic.share_inside(np.array([0.09, 0.11, -0.11]), 0.0, 0.1), [1.0, 0.0, 0.0])
    np.testing.assert_array_equal(arithmetic.share_beyond(np.array([0.09, 0.11, -0.11]), 0.0, 0.1), [0.0, 1.0, 0.0])


def test_the_loss_counts_the_variance_twice() -> None:
    assert arithmetic.loss(np.array(0.03), np.array(0.0004)) == pytest.approx(0.0009 + 0.0008)


def test_a_unit_is_inside_when_every_target_is() -> None:
    """Two batches, two targets, the first batch with two checks at its second target, one of them three times as heavy.

    First draw: batch 0 keeps its first target and a quarter of its second, batch 1 all: (1/4 + 1) / 2. Second draw:
    batch 0 misses its first target, batch 1 all but its second: 0.
    """
    unit, target = np.array([0, 0, 0, 1, 1]), np.array([5, 7, 7, 5, 7])
    weight = np.array([0.25, 0.0625, 0.1875, 0.25, 0.25])
    first, second = np.array([1, 1, 0, 1, 1], dtype=bool), np.array([0, 1, 1, 1, 0], dtype=bool)
    assert arithmetic.share_of_units(first, weight, unit, target) == pytest.approx(0.625)
    assert arithmetic.share_of_units(second, weight, unit, target) == 0.0
    both = np.stack([first, second])
    assert arithmetic.share_of_units(both, weight, unit, target) == pytest.approx(0.3125)
    # The order of the checks does not matter; a check of no weight is none, whatever it says.
    order = np.array([4, 2, 0, 3, 1])
    shuffled = arithmetic.share_of_units(both[:, order], weight[order], unit[order], target[order])
    assert shuffled == pytest.approx(0.3125)
    without = np.where(np.arange(5) == 2, 0.0, weight)
    assert arithmetic.share_of_units(first, without, unit, target) == pytest.approx(1.0)


def test_units_weigh_as_their_checks_do_and_targets_do_not_weigh_inside_them() -> None:
    # The unit of weight .4 misses its lighter target and is outside; the other weighs .6.
    unit, target, weight = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1]), np.array([0.3, 0.1, 0.3, 0.3])
    is_inside = np.array([True, False, True, True])
    assert arithmetic.share_of_units(is_inside, weight, unit, target) == pytest.approx(0.6)
    assert arithmetic.share_of_units(is_inside, 3.0 * weight, unit, target) == pytest.approx(0.6)
    # A unit that has no check at a target is judged at the others.
    assert arithmetic.share_of_units(is_inside[:3], weight[:3], unit[:3], target[:3]) == pytest.approx(0.3 / 0.7)


def test_normal_errors_at_two_targets_move_together() -> None:
    """Outside value: scipy's bivariate normal law with a correlation of .8, over the square of the tolerance."""
    generator = np.random.default_rng(4)
    for _ in range(40):
        mean, deviation = generator.normal(0.0, 0.06, 2), generator.uniform(0.02, 0.12, 2)
        covariance = np.outer(deviation, deviation) * np.array([[1.0, 0.8], [0.8, 1.0]])
        law = stats.multivariate_normal(mean, covariance)
        wanted = law.cdf(np.full(2, 0.1), lower_limit=np.full(2, -0.1))
        found = arithmetic.share_of_normal_units(mean, deviation, 0.1, np.full(2, 0.5), np.zeros(2), np.arange(2))
        assert found == pytest.approx(wanted, abs=1e-3)  # eleven points stand for the common part
    # One target: the normal law itself, no points.
    one = arithmetic.share_of_normal_units(mean[:1], deviation[:1], 0.1, np.ones(1), np.zeros(1), np.zeros(1))
    assert one == pytest.approx(float(arithmetic.share_inside(mean[0], deviation[0], 0.1)), rel=1e-15)


@settings(deadline=None)  # the first call compiles
@given(st.integers(0, 2**32 - 1), st.integers(1, 4), st.integers(2, 3))
def test_the_compiled_share_of_units_is_the_plain_one(seed: int, n_units: int, n_targets: int) -> None:
    generator = np.random.default_rng(seed)
    n_checks = 12
    unit = np.r_[np.arange(n_units), generator.integers(0, n_units, n_checks - n_units)]
    target = np.r_[generator.integers(0, n_targets, n_checks - n_targets), np.arange(n_targets)]
    weight = generator.uniform(0.1, 1.0, n_checks) * (generator.random(n_checks) < 0.8)
    weight[-n_targets:] = 0.3
    mean, deviation = generator.normal(0.0, 0.08, n_checks), generator.uniform(1e-12, 0.2, n_checks)
    plain = arithmetic.share_of_normal_units(mean, deviation, 0.1, weight, unit, target)
    found = compiled_arithmetic.units_inside(mean, deviation, 0.1, weight, unit, target, n_units, n_targets)
    np.testing.assert_allclose(found, plain, rtol=0.0, atol=2e-6)  # straight lines between points of a table: 5e-7


@pytest.mark.parametrize(("mean", "deviation", "wanted"), [(0.0, 1e-12, 1.0), (0.3, 1e-12, 0.0), (-0.3, 1e-12, 0.0),
                                                           (0.0, np.inf, 0.0), (np.nan, 0.1, 0.0)])  # fmt: skip
def test_a_unit_without_scatter_or_without_figures_is_inside_or_not(
    mean: float, deviation: float, wanted: float
) -> None:
    pair, ends = np.arange(2), np.array([0, 0])
    found = compiled_arithmetic.units_inside(
        np.full(2, mean), np.full(2, deviation), 0.1, np.full(2, 0.5), ends, pair, 1, 2
    )
    assert found == pytest.approx(wanted, abs=1e-12)
