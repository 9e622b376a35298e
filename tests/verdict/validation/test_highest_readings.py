"""The reading of each mix that a safe reading is taken from: its highest, whatever its others are."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from planner.verdict.validation.held_out_mixes import highest_by_mix, safe_factor_of_mixes, signed_by_mix

BATCHES, UNITS = ("a1", "a2", "b1"), np.array([0, 0, 1])
VIEWS = SimpleNamespace(batch=BATCHES, unit=UNITS)


def test_on_the_batch_itself_the_highest_check_counts() -> None:
    cells: Any = SimpleNamespace(views=VIEWS, check_unit=np.array([0, 0, 1, 1, 1]))
    nested: Any = SimpleNamespace(shown=SimpleNamespace(error=np.array([-0.30, 0.05, 0.02, np.nan, -0.01])))
    np.testing.assert_array_equal(highest_by_mix(cells, nested, None), [0.05, 0.02])


def test_on_later_pours_the_highest_reading_of_any_batch_counts() -> None:
    cells: Any = SimpleNamespace(views=VIEWS)
    errors: Any = SimpleNamespace(error=np.array([0.04, -0.25, 0.11, -0.02]), read_on=np.array([0, 1, 1, 2]))
    np.testing.assert_array_equal(highest_by_mix(cells, SimpleNamespace(), errors), [0.11, -0.02])
    signed, units = signed_by_mix(cells, SimpleNamespace(), errors)
    np.testing.assert_array_equal(signed, [-0.25, -0.02])
    np.testing.assert_array_equal(units, [0, 1])


def test_a_factor_takes_no_credit_for_mixes_that_all_read_low() -> None:
    assert safe_factor_of_mixes(np.full(22, -0.1), assurance=0.90) == 1.0
    assert safe_factor_of_mixes(np.full(21, 0.1), assurance=0.90) is None  # 22 mixes carry nine in ten at 90 %
