"""Short words for values."""

from __future__ import annotations

import pytest

from planner.terms.labels import digits_label


@pytest.mark.parametrize(
    ("value", "digits", "said"),
    [(112.0, 2, "110"), (2184.0, 3, "2180"), (99.6, 2, "100"), (3.56, 2, "3.6"), (0.0123, 2, "0.012"), (0.4, 2, "0.4")],
)
def test_digits_without_an_exponent(value: float, digits: int, said: str) -> None:
    assert digits_label(value, digits) == said
