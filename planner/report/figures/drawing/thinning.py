"""Fewer marks than there are figures, where a picture would drown in them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

Item = TypeVar("Item")


def spread_over(items: Sequence[Item], most: int) -> list[Item]:
    """At most so many of the items, evenly over all, the first and the last among them."""
    if len(items) <= most:
        return list(items)
    return [items[round(place * (len(items) - 1) / (most - 1))] for place in range(most)]
