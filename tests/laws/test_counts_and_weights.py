"""What it costs that a fit counts every age once, however many specimens its mean comes from.

Against a fit that weighs each mean by its specimens the variance of the prediction is larger, never by more than
``(few + many)^2 / (4 few many)``: 4.2 % with 2 or 3 specimens, a third with 2 or 6. The bound is Kantorovich's
inequality for least squares with wrong weights (from memory: Bloomfield and Watson 1975, Biometrika 62:121, for one
linear function).
"""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
import pytest

from planner.curves import CURVES
from planner.fitting.batch_sweep import CURVE_CODES, FEWEST_AGES, sweep

AGES_H = np.array([6.0, 8, 16, 24, 48, 72, 168, 336, 672])
READ_H = 12.0
PARAMETERS = {"hyperbolic": (60.0, 30.0, 1.0), "exponential": (60.0, 18.0, 0.8), "logarithmic": (-5.0, 10.0)}
SD_MPA = 1e-6  # too little to carry a parameter to its bound, where the law of free fits ends


def shifts(curve: str, counts: tuple[int, int]) -> np.ndarray:
    """Variance of the kernel's own fit over that of the fit weighted by counts, less 1, for every pattern."""
    formula = CURVES[curve]
    strength_mpa = formula.strength(AGES_H, PARAMETERS[curve])
    read_mpa = formula.strength(np.array([READ_H]), PARAMETERS[curve])
    found = []
    for n_ages in (4, 5, 6):
        sets = np.array(list(combinations(range(len(AGES_H)), n_ages)))
        error, status = np.empty((len(sets), 1)), np.empty(len(sets), dtype=np.int8)
        contribution = np.empty((len(sets), 1, n_ages))
        sweep(
            CURVE_CODES[curve], FEWEST_AGES[curve], sets.astype(np.int16), np.full(len(sets), n_ages), AGES_H,
            strength_mpa, SD_MPA / strength_mpa, False, np.array([READ_H]), read_mpa, error, contribution, status,
            np.zeros(1, dtype=np.int64),
        )  # fmt: skip
        gradient = formula.derivative(np.array([READ_H]), PARAMETERS[curve])[0]
        for ages, single in zip(sets, contribution[:, 0] * read_mpa**2, strict=True):
            slopes = formula.derivative(AGES_H[ages], PARAMETERS[curve])
            for pattern in product(counts, repeat=n_ages):
                n = np.array(pattern)
                weighted = gradient @ np.linalg.solve(slopes.T @ (slopes * n[:, None]), gradient) * SD_MPA**2
                found.append(np.sum(single / n) / weighted - 1.0)
    return np.array(found)


@pytest.mark.parametrize("curve", PARAMETERS)
@pytest.mark.parametrize("counts", [(2, 3), (2, 6)])
def test_counting_every_age_once_costs_no_more_than_the_inequality_says(curve: str, counts: tuple[int, int]) -> None:
    few, many = counts
    found = shifts(curve, counts)
    assert found.min() > -1e-6  # no unbiased fit beats the weighted one
    assert found.max() <= (few + many) ** 2 / (4 * few * many) - 1 + 1e-6
    assert found.max() > 0.01  # and it does cost something


def test_with_two_or_three_specimens_it_costs_two_or_three_per_cent() -> None:
    # Of a line in the logarithm of age; where there is less to average out, with more parameters, about one per cent.
    assert 0.02 < np.median(shifts("logarithmic", (2, 3))) < 0.035
    assert 0.005 < np.median(shifts("hyperbolic", (2, 3))) < 0.02
