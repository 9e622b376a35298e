"""The grid that fits start from: heights, sums kept from set to set, and the start itself."""

from __future__ import annotations

from itertools import combinations
from math import exp, log

import numpy as np
import pytest

from planner.fitting.grid import N_COLUMNS, N_GRID, N_ROWS, grid_heights, grid_shape, no_heights, start_on_grid, survey
from planner.fitting.sensitivities import natural, shape_at
from planner.fitting.variable_projection import AGE, EXPONENTIAL, HYPERBOLIC, LOG_AGE, MEAN, N_LINES, WEIGHT

AGES_H = np.array([4.0, 6, 8, 12, 24, 72, 168, 672])


def fitted_to(ages_h: np.ndarray, mean_mpa: np.ndarray) -> np.ndarray:
    """What a fit works on, relative weights."""
    fitted = np.empty((N_LINES, len(ages_h)))
    fitted[AGE], fitted[LOG_AGE] = ages_h / ages_h[0], np.log(ages_h / ages_h[0])
    fitted[MEAN], fitted[WEIGHT] = mean_mpa, mean_mpa**-2.0
    return fitted


def surveyed(curve: int, fitted: np.ndarray) -> np.ndarray:
    """The sums of one survey of its own."""
    n = fitted.shape[1]
    sums = np.empty((2 * n + 2, N_GRID), dtype=np.float32)
    survey(curve, n, fitted, 0, np.arange(n), no_heights(1, n), np.full(n, -1), sums)
    return sums


@pytest.mark.parametrize("curve", [HYPERBOLIC, EXPONENTIAL])
@pytest.mark.parametrize("age", [1.0, 1.7, 6.0, 168.0])
def test_heights_are_those_of_the_curve(curve: int, age: float) -> None:
    heights = no_heights(1, 1)
    grid_heights(curve, age, log(age), 0, 0, heights)
    exact = np.array([
        shape_at(curve, age, log(age), *natural(curve, *grid_shape(curve, row, float(column))))[0]
        for column in range(N_COLUMNS)
        for row in range(N_ROWS)
    ])  # fmt: skip
    np.testing.assert_allclose(heights[0, 0], exact, atol=1e-4)


@pytest.mark.parametrize("curve", [HYPERBOLIC, EXPONENTIAL])
def test_sums_kept_from_the_set_before_are_those_of_a_survey_of_its_own(curve: int) -> None:
    mean_mpa = 60.0 * np.exp(-((18.0 / AGES_H) ** 0.8))
    most = 6
    heights, kept = no_heights(len(AGES_H), len(AGES_H)), np.full(most, -1)
    sums = np.empty((2 * most + 2, N_GRID), dtype=np.float32)
    by_size = [rows for size in (3, 5, most, 4) for rows in combinations(range(len(AGES_H)), size)]
    for positions in (*by_size, *sorted(by_size)):  # sorted, a set often follows its own beginning
        rows = np.array(positions)
        fitted = fitted_to(AGES_H[rows], mean_mpa[rows])
        survey(curve, len(rows), fitted, rows[0], rows, heights, kept, sums)
        alone = surveyed(curve, fitted)
        assert np.array_equal(sums[-2], alone[-2]), positions
        assert np.array_equal(sums[-1, :N_ROWS], alone[-1, :N_ROWS]), positions


def test_each_row_knows_its_highest_place() -> None:
    sums = surveyed(EXPONENTIAL, fitted_to(AGES_H, 60.0 * np.exp(-((18.0 / AGES_H) ** 0.8))))
    assert np.array_equal(sums[-1, :N_ROWS], sums[-2].reshape(N_COLUMNS, N_ROWS).max(axis=0))


@pytest.mark.parametrize("power", [0.15, 0.4, 0.8, 1.2, 2.0])
@pytest.mark.parametrize("tau_h", [3.0, 6.0, 12.0])
def test_the_start_lies_near_the_curve_that_the_means_lie_on(power: float, tau_h: float) -> None:
    mean_mpa = 60.0 * np.exp(-((tau_h / AGES_H) ** power))
    fitted = fitted_to(AGES_H, mean_mpa)
    fitted[WEIGHT] = 1.0
    first, second = start_on_grid(surveyed(EXPONENTIAL, fitted))
    # what counts is the shape: along the valley of equal powers times trade against the power
    shape = np.exp(-((exp(first) * AGES_H[0] / AGES_H) ** second))
    ultimate = (shape @ mean_mpa) / (shape @ shape)
    np.testing.assert_allclose(ultimate * shape, mean_mpa, atol=3.0)
