"""What the choice of maturity constants does to the recommended schedule."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.maturity import MaturityMethod, MaturitySetting


@dataclass(frozen=True, slots=True, kw_only=True)
class AtConstant:
    """Errors of the recommended schedule and curve under one constant; of a fixed choice, apparent."""

    constant: float  # Q [K] or datum [C]
    own_rms: float
    later_rms: float | None  # with as many trial batches as are recommended; None where pours cannot be told
    by_condition: tuple[float | None, ...]  # own batch, one a condition of the checks


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursUnder:
    """How long concrete at one temperature takes to what a target asks, under three constants."""

    age_h: float  # of the target [h]
    temperature_c: float
    lowest_h: (
        float | None
    )  # None: it never gets there, or outside the break ages; under the least constant that is about as good
    chosen_h: float | None
    highest_h: float | None  # under the greatest


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstantsOfMethod:
    """One maturity method over its constants."""

    method: Literal["equivalent age", "temperature-time"]
    points: tuple[AtConstant, ...]  # rising
    about_as_good: tuple[float, float]  # constants between these differ by no more than is immaterial
    hours: tuple[HoursUnder, ...]  # () for the method that is not recommended


@dataclass(frozen=True, slots=True, kw_only=True)
class CarefulConstant:
    """Of constants that tie, the one that reads lower at the worst end of the site's range."""

    method: MaturityMethod
    tied: tuple[float, ...]  # rising, the chosen one among them; alone where no other ties
    chosen: float
    site_c: tuple[float, float]  # stated range
    over_reading: float  # relative, at the worse end, if another tied one is right; lowers safe readings
    worst_c: float  # that end


@dataclass(frozen=True, slots=True, kw_only=True)
class Constants:
    """Both methods, with the constant that is recommended."""

    chosen: MaturitySetting
    conditions: tuple[str, ...]  # of the checks, as their records call them
    judged_on: Literal["later pour", "own batch"]
    immaterial: float  # relative
    methods: tuple[ConstantsOfMethod, ...]
