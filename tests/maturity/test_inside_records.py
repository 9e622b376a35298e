"""Where earlier batches say something of a maturity: limits by hand."""

from __future__ import annotations

import pytest

from planner.maturity.inside_records import is_comparable, is_inside


@pytest.mark.parametrize(
    ("maturity_h", "inside", "comparable"),
    [(9.49, False, False), (9.51, True, True), (100.0, True, True), (100.1, False, True), (124.9, False, True),
     (125.1, False, False)],
)  # fmt: skip
def test_a_little_below_is_let_off_and_beyond_only_breaks_are_compared(
    maturity_h: float, inside: bool, comparable: bool
) -> None:
    """Records from 10 to 100 h: 5 % below, and a quarter beyond for what is not read."""
    assert is_inside(maturity_h, (10.0, 100.0)) is inside
    assert is_comparable(maturity_h, (10.0, 100.0)) is comparable
