"""Errors on later pours against enumerated subsets, and against pours that were really drawn."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from planner.resampling.errors.later_pours.later_pour import is_extrapolated, jackknife_error, moments, square_of
from planner.terms.arrays import FloatArray

N_LAWS = 4000


def later_square(error: FloatArray, n_trial_batches: int) -> FloatArray:
    """Expected square of the mean of `n_trial_batches` of these errors, ``error.shape[1:]``."""
    return square_of(*moments(error), n_trial_batches)


def _enumerated(errors: list[float], n_trial_batches: int) -> float:
    """Mean square over every way of taking so many of the other batches."""
    taken = list(combinations(errors, n_trial_batches))
    return sum((sum(some) / len(some)) ** 2 for some in taken) / len(taken)


@pytest.mark.parametrize("n_others", [2, 3, 5, 8])
@pytest.mark.parametrize("n_trial_batches", [1, 2, 3, 5])
def test_it_is_the_mean_over_every_subset_of_the_records(n_others: int, n_trial_batches: int) -> None:
    errors = np.random.default_rng(n_others).normal(0.03, 0.1, (n_others, 4))
    if n_trial_batches > n_others:
        assert is_extrapolated(n_others, n_trial_batches)
        return
    wanted = [_enumerated(column.tolist(), n_trial_batches) for column in errors.T]
    assert later_square(errors, n_trial_batches) == pytest.approx(wanted, rel=1e-12)
    assert not is_extrapolated(n_others, n_trial_batches)


def test_by_hand() -> None:
    """Errors of 10 and -2 %: mean 4 %, variance 72; one batch 16 + 36 = 52, two 16, three 16 - 12 = 4 (in %^2)."""
    errors = np.array([0.10, -0.02])
    assert [float(later_square(errors, m)) for m in (1, 2, 3)] == pytest.approx([52e-4, 16e-4, 4e-4])


def test_a_batch_without_a_curve_is_left_out() -> None:
    errors = np.array([[0.10, np.nan, np.nan], [-0.02, -0.02, np.nan], [np.nan, np.nan, np.nan]])
    one, two = later_square(errors, 1), later_square(errors, 2)
    assert one[:2] == pytest.approx([52e-4, 4e-4])
    assert np.isnan(one[2])
    assert two[0] == pytest.approx(16e-4)
    assert np.isnan(two[1]), "one batch shows nothing of how the mean of two would do"
    assert moments(errors)[2].tolist() == [2, 1, 0]


def test_no_trial_batch_is_refused() -> None:
    with pytest.raises(ValueError, match="one trial batch or more, given 0"):
        later_square(np.zeros(3), 0)


@pytest.mark.parametrize("n_trial_batches", [1, 2, 3])
def test_it_is_unbiased_for_batches_that_were_never_cast(n_trial_batches: int) -> None:
    """Bias 4 %, spread 9 %: the mean over drawn records is 16 + 81/m (in %^2).

    Seed 5; 4,000 sets of six errors. An estimate strays by less than 4.5 standard errors of its own mean but
    for 1 in 150,000.
    """
    errors = np.random.default_rng(5).normal(0.04, 0.09, (6, N_LAWS))
    found = later_square(errors, n_trial_batches)
    wanted = 0.04**2 + 0.09**2 / n_trial_batches
    assert found.mean() == pytest.approx(wanted, abs=4.5 * float(found.std()) / N_LAWS**0.5)
    assert abs(wanted - (0.04**2 + 0.09**2 / (n_trial_batches + 1))) > 9 * found.std() / N_LAWS**0.5


def test_the_jackknife_of_a_mean_is_its_standard_error() -> None:
    values = np.array([1.0, 4.0, 2.0, 9.0])
    without = (values.sum() - values) / 3.0
    assert float(jackknife_error(without)) == pytest.approx(float(values.std(ddof=1)) / 2.0)
