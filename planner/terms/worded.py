"""Words join figures when both are there: a frozen value is built once, without a placeholder."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, TypeVar

Worded = TypeVar("Worded")


def worded(kind: type[Worded], figures: Any, **words: object) -> Worded:
    """Build a value of a kind that is its figures' kind with words added.

    Raises
    ------
    TypeError
        Where the words are not just the fields that the figures lack.
    """
    return kind(**{field.name: getattr(figures, field.name) for field in fields(figures)}, **words)
