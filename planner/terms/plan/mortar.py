"""Mortar cubes of the mix, cured at several temperatures: what was broken, and the maturity constants that follow."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MortarBreaks:
    """Every cube in one row."""

    age_h: FloatArray  # (n_cubes,)
    temperature_c: FloatArray  # of curing, constant, (n_cubes,)
    strength_mpa: FloatArray  # (n_cubes,)


@dataclass(frozen=True, slots=True, kw_only=True)
class MortarRate:
    """The rate constant at one temperature, of ``Su k (t - t0) / (1 + k (t - t0))``."""

    temperature_c: float
    n_cubes: int
    n_ages: int
    ultimate_mpa: float
    rate_per_d: float  # k
    rate_se: float  # relative
    offset_h: float  # t0


@dataclass(frozen=True, slots=True, kw_only=True)
class MortarConstant:
    """One constant from the line through the rates."""

    value: float
    standard_error: float
    least: float  # of the 95 % interval
    most: float
    is_on_a_line: bool  # False: the rates leave the line by more than their scatter; the interval counts that
    taken: float | None  # rounded, joins the candidates; None: the constant could not be used, or was not asked
    dropped: tuple[float, ...] = ()  # candidates of the plan outside the interval, left out of the search


@dataclass(frozen=True, slots=True, kw_only=True)
class MortarConstants:
    """What the mortar says of both constants."""

    file: str
    rates: tuple[MortarRate, ...]  # coolest first
    q_k: MortarConstant
    datum_c: MortarConstant
