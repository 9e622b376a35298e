"""What whole mixes left out show, where no normal law may be leant on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class Trait(StrEnum):
    """What mixes may have in common."""

    STRENGTH = "strength at the target"
    LAST_AGE = "last age broken"


@dataclass(frozen=True, slots=True, kw_only=True)
class WorstMix:
    """One of the mixes that are read worst."""

    mix: str
    error: float  # signed, its worst reading
    strength_mpa: float  # mean of the truths it is held against
    last_age_h: float  # oldest age at which it was broken


@dataclass(frozen=True, slots=True, kw_only=True)
class Common:
    """A trait by which all the worst mixes lie in the lowest, or the highest, third of all mixes."""

    trait: Trait
    is_low: bool
    worst: tuple[float, float]  # smallest and largest among the worst [MPa or h]
    others: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MixErrors:
    """Errors of mixes that did not choose, by their order alone. One signed error for each mix, its worst."""

    basis: Literal["own batch", "next batch"]
    n_mixes: int
    quantile_abs: float  # eight in ten are read no further off than that
    quantile_upper_95: float | None  # of the 80 % quantile over all such mixes; None with too few of them
    n_more_for_quantile: int  # mixes that are missing for that bound
    n_more_for_safe_reading: int
    worst_fifth_share: float  # of the sum of squared errors, made by the worst fifth of the mixes
    is_heavy_tailed: bool
    worst: tuple[WorstMix, ...]  # () where fewer than five mixes are judged
    in_common: tuple[Common, ...]
