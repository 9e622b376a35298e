"""The compiled exponential function: against the C library's."""

from __future__ import annotations

from math import exp

import numpy as np
import pytest

from planner.fitting.quick_exp import FARTHEST, quick_exp


@pytest.mark.parametrize("reach", [1e-9, 1e-3, 1.0, 30.0, FARTHEST])
def test_is_the_exponential_to_rounding(reach: float) -> None:
    # Fixed seed: no false alarm.
    for x in np.random.default_rng(91).uniform(-reach, reach, 2000):
        assert quick_exp(x) == pytest.approx(exp(x), rel=5e-16, abs=0.0), x


def test_is_exact_at_zero_and_keeps_a_hole() -> None:
    assert quick_exp(0.0) == 1.0
    assert np.isnan(quick_exp(np.nan))


@pytest.mark.parametrize("x", [701.0, 1e9, np.inf])
def test_above_its_range_it_is_the_farthest_and_below_nothing(x: float) -> None:
    assert quick_exp(x) == quick_exp(FARTHEST)
    assert quick_exp(-x) == 0.0
    assert 0.0 < quick_exp(-FARTHEST) < 1e-300
