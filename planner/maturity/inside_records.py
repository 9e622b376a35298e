"""Whether the earlier batches were broken about a maturity, so that nothing need be carried on beyond them."""

from __future__ import annotations

LEAST_SLACK = 0.05  # below the least maturity of the records: the least of a few batches is not the least there is
MOST_SLACK = 0.25  # beyond the most, for breaks that are only compared: concrete gains little there
ROUNDING = 1e-9


def is_inside(maturity_h: float, span_h: tuple[float, float]) -> bool:
    """Whether a maturity [h] lies between the least and the most, a little below the least included."""
    least, most = span_h
    return least * (1.0 - LEAST_SLACK) <= maturity_h <= most * (1.0 + ROUNDING)


def is_comparable(maturity_h: float, span_h: tuple[float, float]) -> bool:
    """Whether a break at a maturity [h] can be held against the earlier batches: nothing is read there."""
    least, most = span_h
    return is_inside(maturity_h, (least, most * (1.0 + MOST_SLACK)))
