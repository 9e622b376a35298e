"""Values of a plan with a unit: ages, strengths, temperatures, scatter; and the geometry that specimens have."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from planner.read.parsing.findings import shown
from planner.read.parsing.quantities import parse_duration, parse_number, parse_strength, parse_whole
from planner.read.plan.types.editor_kinds import (
    DURATION,
    NUMBER,
    SHARE,
    STRENGTH,
    TEMPERATURE,
    TEXT,
    any_of,
    at_least,
    list_of,
)
from planner.read.plan.types.number_types import _inside_one, bounded, checked, filled_text, one_or_more
from planner.terms.plan.geometry import nominal_geometry
from planner.units import celsius_from_fahrenheit

MOST_SPECIMENS_PER_AGE = 100
MOST_AGES = 60
MOST_STRENGTHS = 10
WARMEST_UNHEATED_C = 45.0  # common practice, no source


def _positive_duration(given: object) -> float:
    hours = parse_duration(given)
    if hours <= 0:
        raise ValueError(f"Given {shown(given)}; it must be above 0 h.")
    return hours


def _ages(given: object) -> tuple[float, ...]:
    """Read a list of ages, sorted; an age may stand once only."""
    ages: tuple[float, ...] = one_or_more(_positive_duration, "ages").func(given)  # type: ignore[call-arg]
    if not ages:
        raise ValueError("The list is empty. Give at least one age.")
    if len(ages) > MOST_AGES:
        raise ValueError(f"There are {len(ages)} ages, more than {MOST_AGES}. Leave some out.")
    twice = sorted({age for age in ages if ages.count(age) > 1})
    if twice:
        raise ValueError(f"The age {', '.join(f'{age:g} h' for age in twice)} stands twice. Give each age once.")
    return ages


def _strengths(given: object) -> tuple[float, ...]:
    """Read a list of strengths; a strength may stand once only."""
    strengths: tuple[float, ...] = one_or_more(parse_strength, "strengths").func(given)  # type: ignore[call-arg]
    if not strengths:
        raise ValueError("The list is empty. Give at least one strength, or leave the key out.")
    if len(strengths) > MOST_STRENGTHS:
        raise ValueError(f"There are {len(strengths)} strengths, more than {MOST_STRENGTHS}. Leave some out.")
    twice = sorted({one for one in strengths if strengths.count(one) > 1})
    if twice:
        raise ValueError(f"{', '.join(f'{one:g} MPa' for one in twice)} stands twice. Give each strength once.")
    return strengths


def _temperature(given: object) -> float:
    """Read degrees C from a number, or "68 F" and "20 C" from text."""
    if isinstance(given, str):
        text = given.strip().upper().replace("°", "")
        if text.endswith(("C", "F")):
            try:
                number = float(text[:-1].replace(",", "."))
            except ValueError:
                number = float("nan")
            if abs(number) < 1e6:
                return celsius_from_fahrenheit(number) if text.endswith("F") else number
        raise ValueError(f'Given {shown(given)}, which is no temperature. Write 20, "20 C" or "68 F".')
    return parse_number(given)


def _unheated_temperature(given: object) -> float:
    """Read a temperature without its unit only where concrete may have it without heat."""
    value = _temperature(given)
    if not isinstance(given, str) and value > WARMEST_UNHEATED_C:
        raise ValueError(
            f'Given {value:g}, which is hot for unheated concrete. Write "{value:g} F" where it is in degrees F, '
            f'"{value:g} C" where it is meant.'
        )
    return value


def _specimens_per_age(given: object) -> tuple[int, int]:
    if isinstance(given, list) and len(given) == 2:
        fewest, most = (parse_whole(item) for item in given)
        if 1 <= fewest <= most <= MOST_SPECIMENS_PER_AGE:
            return fewest, most
    raise ValueError(
        f"Given {shown(given)}; write the fewest and the most, like [2, 4], at least 1 and at most "
        f"{MOST_SPECIMENS_PER_AGE}."
    )


def _site_temperatures(given: object) -> tuple[float, float]:
    if isinstance(given, list) and len(given) == 2:
        coolest, warmest = _unheated_temperature(given[0]), _temperature(given[1])
        if -20.0 <= coolest <= warmest <= 100.0:
            return coolest, warmest
    raise ValueError(
        f"Given {shown(given)}; write the coolest and the warmest mean inside the concrete, like [12, 35], "
        "within -20 to 100 C."
    )


def _scatter(given: object) -> float | dict[float, float]:
    """Read one CV, or a table of CVs by age."""
    if not isinstance(given, dict):
        return _inside_one(given)
    by_age: dict[float, float] = {}
    for age, cv in given.items():
        hours = _positive_duration(age)
        if hours in by_age:
            raise ValueError(f"The age {hours:g} h stands twice. Give each age once.")
        by_age[hours] = _inside_one(cv)
    if not by_age:
        raise ValueError('The table is empty. Write it like {"6 h" = "6 %", "28 d" = "3 %"}.')
    return by_age


def _geometry(given: object) -> str:
    """A geometry by its nominal sizes."""
    text = re.sub(r"(?<=\d)\s*[x×*/]\s*(?=\d)", "x", filled_text(given))
    try:
        return nominal_geometry(text)
    except ValueError as error:
        raise ValueError(str(error)) from None


Geometry = Annotated[str, BeforeValidator(_geometry), WithJsonSchema(TEXT)]
PositiveDuration = Annotated[float, BeforeValidator(_positive_duration), WithJsonSchema(DURATION)]
NoNegativeDuration = Annotated[
    float, checked(parse_duration, lambda hours: hours >= 0, "it must not be negative"), WithJsonSchema(DURATION)
]
Ages = Annotated[tuple[float, ...], BeforeValidator(_ages), WithJsonSchema(list_of(DURATION))]
Strengths = Annotated[tuple[float, ...], BeforeValidator(_strengths), WithJsonSchema(list_of(STRENGTH))]
Strength = Annotated[
    float, bounded(1e-3, 400.0, "a strength lies above 0 and at most at 400 MPa"), WithJsonSchema(NUMBER)
]
MinutesPerBreak = Annotated[
    float, bounded(0.1, 24 * 60.0, "one break takes from 0.1 to 1440 minutes"), WithJsonSchema(NUMBER)
]
LeastStrength = Annotated[float, bounded(0.0, 400.0, "it must lie from 0 to 400 MPa"), WithJsonSchema(at_least(0))]
SettingHours = Annotated[
    float, bounded(0.0, 1000.0, "hours until final set lie from 0 to 1000"), WithJsonSchema(at_least(0))
]
Temperature = Annotated[
    float,
    checked(_temperature, lambda value: -50 <= value <= 120, "it must lie within -50 and 120 C"),
    WithJsonSchema(TEMPERATURE),
]
UnheatedTemperature = Annotated[
    float,
    checked(_unheated_temperature, lambda value: -50 <= value <= 120, "it must lie within -50 and 120 C"),
    WithJsonSchema(TEMPERATURE),
]
SiteTemperatures = Annotated[
    tuple[float, float], BeforeValidator(_site_temperatures), WithJsonSchema(list_of(TEMPERATURE, length=2))
]
SpecimensPerAge = Annotated[
    tuple[int, int], BeforeValidator(_specimens_per_age), WithJsonSchema(list_of(at_least(1, "integer"), length=2))
]
Scatter = Annotated[
    Any,
    BeforeValidator(_scatter),
    WithJsonSchema(any_of(SHARE, {"type": "object", "minProperties": 1, "additionalProperties": SHARE})),
]
