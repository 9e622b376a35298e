"""What a laboratory could cast: one kind of specimen with what it costs and how it is converted."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenKind:
    """One geometry that the laboratory could cast. None: as the tables of costs and laboratory say."""

    geometry: str  # by its nominal sizes, ``cylinder 150x300 mm``
    specimen: float | None = None  # making one
    preparation: float | None = None  # end preparation of one
    break_one: float | None = None  # breaking one
    minutes_per_break: float | None = None
    within_test_cv: float | None = None  # relative, where the records cannot tell
    factor: float | None = None  # stated: strength in the target's geometry over strength in this one
    factor_cv: float | None = None  # of that factor from batch to batch, relative
