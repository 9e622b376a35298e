"""Advice from three batches at 1, 3, 7 and 28 d against advice from full records, by the program itself.

Fifty repeats are ``python -m tests.statistics.thinned_runway``; here a few stand guard.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.statistics.thinned_runway import bound_over_populations, repeated

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("without_what_comes_after_casting", "learnt_once")]


@pytest.mark.parametrize(("number", "has_target_among_ages"), [(0, True), (1, False)])
def test_thinned_records_advise_nearly_as_well(number: int, has_target_among_ages: bool) -> None:
    # Fixed programmes, so no chance of a false alarm; in 36 programmes advised both ways the largest ratio was 1.4.
    assert repeated(number, has_target_among_ages=has_target_among_ages).ratio < 2.5


def test_bound_by_hand() -> None:
    # mean squares 1, 4, 9 (in 1e-4) with no scatter; then scatter 2e-4 twice as large in variance
    square = np.array([0.5, 1.5, 4.0, 4.0, 9.0, 9.0]) * 1e-4
    number = np.array([0, 0, 1, 1, 2, 2])
    none, one = np.zeros(6), np.ones(6)
    alone = bound_over_populations(square, none, population_of_unit=number, scatter_factor=one, confidence=1.0)
    assert alone == pytest.approx(0.03)
    middle = bound_over_populations(square, none, population_of_unit=number, scatter_factor=one, confidence=0.5)
    assert middle == pytest.approx(0.02)
    wide = bound_over_populations(
        square, 2e-4 * one, population_of_unit=number, scatter_factor=np.sqrt(2.0) * one, confidence=1.0
    )
    assert wide == pytest.approx(np.sqrt(13e-4))
