"""What is read off an issued curve: the table of the sheet, the targets, the hours to the strengths that decide."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.maturity_unit import maturity_unit

MOST_ROWS: Final = 18  # of the table on the sheet
ROUND: Final = (  # steps of a table within a decade, fine to coarse
    (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0),
    (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0),
    (1.0, 1.5, 2.0, 3.0, 5.0, 7.0),
    (1.0, 2.0, 5.0),
)
APART: Final = 1.04  # a round maturity nearer than this to an end or a target gives way to it
USUAL_TEMPERATURES_C: Final = (10.0, 20.0, 30.0)  # where the plan states no range
STRENGTH_STEPS_MPA: Final = (5.0, 1.0, 0.5)  # of the strengths that are timed where the plan names none
FEW_DIGITS: Final = 100.0  # maturities from here on are written without decimals


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """One line of the table: maturity, strength read, strength to compare with the required one."""

    maturity_h: float
    strength_mpa: float
    safe_mpa: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The curve at a target age, standard-cured."""

    age_h: float
    maturity_h: float
    strength_mpa: float
    safe_mpa: float | None
    assurance: float
    is_inside: bool  # of the maturities of the breaks


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursRow:
    """When a strength is there at one concrete temperature. For planning who comes in when; no reading."""

    strength_mpa: float
    temperature_c: float
    earliest_h: float | None  # if the concrete is as much stronger than read as the safe reading allows weaker
    likely_h: float | None  # None: outside the curve
    safe_h: float | None  # None: outside the curve, or no safe reading


def table_of(curve: IssuedCurve) -> tuple[TableRow, ...]:
    """Rows at round maturities in the unit of the curve, at the targets and at both ends of its span.

    Ends are rounded inward to what is written, so that no line of the sheet lies outside the breaks.
    """
    _, per_hour = maturity_unit(curve.maturity)
    first, last = (maturity * per_hour for maturity in curve.span_h)
    ends = (_rounded(first, math.ceil) / per_hour, _rounded(last, math.floor) / per_hour)
    targets = (_rounded(maturity * per_hour, round) / per_hour for maturity in curve.target_maturities_h())
    fixed = sorted({*ends, *(target for target in targets if ends[0] < target < ends[1])})
    for steps in ROUND:
        maturities = sorted({*fixed, *_round_between(fixed, per_hour, steps)})
        if len(maturities) <= MOST_ROWS:
            break
    return tuple(
        TableRow(maturity_h=maturity, strength_mpa=curve.read(maturity), safe_mpa=curve.safe(maturity))
        for maturity in maturities
    )


def readings_of(curve: IssuedCurve) -> tuple[Reading, ...]:
    """The curve at every target age, standard-cured."""
    return tuple(
        Reading(
            age_h=age_h,
            maturity_h=maturity_h,
            strength_mpa=curve.read(maturity_h),
            safe_mpa=curve.safe(maturity_h),
            assurance=curve.promise.assurance,
            is_inside=curve.holds_at(maturity_h),
        )
        for age_h, maturity_h in zip(curve.target_ages_h, curve.target_maturities_h(), strict=True)
    )


def decision_strengths(curve: IssuedCurve) -> tuple[float, ...]:
    """The strengths [MPa] that the plan waits for; else round ones at or below the readings of the targets."""
    if curve.waits_mpa:
        return curve.waits_mpa
    least = curve.read(curve.span_h[0])
    found = set()
    for reading in readings_of(curve):
        rounded = (step * math.floor(reading.strength_mpa / step) for step in STRENGTH_STEPS_MPA)
        on_curve = [strength for strength in rounded if strength > max(least, 0.0)]
        found.update(on_curve[:1])
    return tuple(sorted(found))


def decision_temperatures(curve: IssuedCurve) -> tuple[float, ...]:
    """Those that hours are told at, of the curve's range."""
    return planning_temperatures(curve.temperature_c)


def planning_temperatures(range_c: tuple[float, float] | None) -> tuple[float, ...]:
    """Ends and middle of a range of concrete temperature in full degrees, else 10, 20 and 30 C."""
    if range_c is None:
        return USUAL_TEMPERATURES_C
    coolest, warmest = float(math.ceil(range_c[0])), float(math.floor(range_c[1]))
    if coolest >= warmest:
        return tuple(sorted(set(range_c)))
    return tuple(sorted({coolest, float(round((coolest + warmest) / 2)), warmest}))


def hours_of(
    curve: IssuedCurve, strengths_mpa: Sequence[float], temperatures_c: Sequence[float]
) -> tuple[HoursRow, ...]:
    """Hours to each strength at each constant concrete temperature."""
    factor = curve.promise.safe_factor if curve.is_calibrated else None
    return tuple(
        HoursRow(
            strength_mpa=strength,
            temperature_c=temperature,
            earliest_h=None if factor is None else _hours(curve, strength / factor, temperature),
            likely_h=_hours(curve, strength, temperature),
            safe_h=None if factor is None else _hours(curve, strength * factor, temperature),
        )
        for strength in strengths_mpa
        for temperature in temperatures_c
    )


def decision_hours(curve: IssuedCurve) -> tuple[HoursRow, ...]:
    """Hours to the strengths that are decided by, at the temperatures of the plan's range."""
    return hours_of(curve, decision_strengths(curve), decision_temperatures(curve))


def _hours(curve: IssuedCurve, strength_mpa: float, temperature_c: float) -> float | None:
    maturity_h = curve.maturity_at(strength_mpa)
    if maturity_h is None:
        return None
    hours = curve.hours_at(maturity_h, temperature_c)
    return hours if math.isfinite(hours) else None


def _rounded(written: float, how: Callable[[float], int]) -> float:
    """A maturity to the digits with which it is written: one decimal below 100, none above."""
    return how(round(written * 10, 6)) / 10 if written < FEW_DIGITS else float(how(round(written, 6)))


def _round_between(fixed_h: Sequence[float], per_hour: float, steps: Sequence[float]) -> list[float]:
    """Maturities [h] that are round in the written unit, between the first and the last, not too near to others."""
    first, last = fixed_h[0] * per_hour, fixed_h[-1] * per_hour
    decades = range(math.floor(math.log10(first)), math.ceil(math.log10(last)) + 1)
    rounds = [step * 10.0**decade / per_hour for decade in decades for step in steps]
    return [
        value
        for value in rounds
        if fixed_h[0] < value < fixed_h[-1] and all(not 1 / APART < value / held < APART for held in fixed_h)
    ]
