"""The kinds of values a plan may hold, for the tables of `plan_file`."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any, TypeVar

from pydantic import BeforeValidator, WithJsonSchema

from planner.read.datetimes.clock_formats import ClockPattern, declared_pattern
from planner.read.parsing.findings import shown
from planner.read.parsing.quantities import parse_duration, parse_number, parse_share, parse_strength, parse_whole
from planner.read.plan.editor_kinds import (
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
from planner.terms.plan.geometry import nominal_geometry
from planner.units import celsius_from_fahrenheit

Value = TypeVar("Value")

LEAST_SHARE = 1e-6
LEAST_TOLERANCE = 1e-4
LEAST_ASSURANCE, MOST_ASSURANCE = 0.5, 0.999
MOST_TRIAL_BATCHES = 5
MOST_SPECIMENS_PER_AGE = 100
MOST_AGES = 60
MOST_STRENGTHS = 10
WARMEST_UNHEATED_C = 45.0  # common practice, no source


def _checked(parse: Callable[[object], Value], accepts: Callable[[Value], bool], allowed: str) -> BeforeValidator:
    def read(given: object) -> Value:
        value = parse(given)
        if not accepts(value):
            raise ValueError(f"Given {shown(given)}; {allowed}.")
        return value

    return BeforeValidator(read)


def one_or_more(read_one: Callable[[object], Value], what: str) -> BeforeValidator:
    """A list of values; all that cannot be read are told at once."""

    def read(given: object) -> tuple[Value, ...]:
        if not isinstance(given, list):
            raise ValueError(f"Given {shown(given)}; write a list of {what} in brackets.")
        faults: list[str] = []
        values: list[Value] = []
        for item in given:
            try:
                values.append(read_one(item))
            except ValueError as error:
                faults.append(str(error))
        if faults:
            raise ValueError(" ".join(faults))
        return tuple(values)

    return BeforeValidator(read)


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


def text_of(given: object) -> str:
    """Read a text, blanks at its ends taken off."""
    if not isinstance(given, str):
        raise ValueError(f"Given {shown(given)}, which is no text. Write it in quotes.")
    return given.strip()


def filled_text(given: object) -> str:
    """Read a text that is not empty."""
    text = text_of(given)
    if not text:
        raise ValueError("The text is empty. Fill it in or leave the key out.")
    return text


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


def _file_names(given: object) -> tuple[str, ...]:
    """One file name, or a list of different ones."""
    names = tuple(filled_text(item) for item in (given if isinstance(given, list) else [given]))
    if not names or len(set(names)) < len(names):
        raise ValueError(f"Given {shown(given)}; name one file, or a list of different files in brackets.")
    return names


def _trial_batches(given: object) -> tuple[int, int]:
    """Read a number of trial batches, or the fewest and the most; 0 alone: the records are relied on."""
    ends = given if isinstance(given, list) else [given, given]
    if len(ends) == 2:
        fewest, most = (parse_whole(item) for item in ends)
        if 1 <= fewest <= most <= MOST_TRIAL_BATCHES or fewest == most == 0:
            return fewest, most
    raise ValueError(
        f"Given {shown(given)}; write a number of trial batches, or the fewest and the most like [1, 3], "
        f"from 1 to {MOST_TRIAL_BATCHES}; or 0 to read from the records alone."
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


def _inside_one(given: object) -> float:
    share = parse_share(given)
    if not 0 < share < 1:
        raise ValueError(f'Given {shown(given)}; it must be above 0 and below 100 %, like "10 %" or 0.10.')
    if share < LEAST_SHARE:
        raise ValueError(f'Given {shown(given)}; so near to nothing it is a slip. Write it like "10 %" or 0.10.')
    return share


def _time_format(given: object) -> ClockPattern:
    return declared_pattern(filled_text(given))


def _count(*, least: int, most: int) -> BeforeValidator:
    """A whole number within bounds; what lies beyond the upper one is a slip or more than can be worked out."""

    def read(given: object) -> int:
        count = parse_whole(given)
        if count < least:
            raise ValueError(f"Given {shown(given)}; it must be {_LEAST_COUNT[least]}.")
        if count > most:
            raise ValueError(f"Given {shown(given)}; at most {most:,} can be worked with. Write a smaller number.")
        return count

    return BeforeValidator(read)


_LEAST_COUNT = {0: "a whole number, 0 or more", 1: "a positive whole number"}


def _bounded(least: float, most: float, allowed: str) -> BeforeValidator:
    return _checked(parse_number, lambda value: least <= value <= most, allowed)


def _assurance(given: object) -> float:
    share = _inside_one(given)
    if not LEAST_ASSURANCE <= share <= MOST_ASSURANCE:
        raise ValueError(
            f'Given {shown(given)}; the assurance is the wanted share of batches, from 50 % to 99.9 %, like "90 %".'
        )
    return share


def _tolerance(given: object) -> float:
    share = _inside_one(given)
    if share < LEAST_TOLERANCE:
        raise ValueError(
            f"Given {shown(given)}; no testing machine tells {100 * LEAST_TOLERANCE:g} % of a strength apart. "
            'Write it like "10 %".'
        )
    return share


def _geometry(given: object) -> str:
    """A geometry by its nominal sizes."""
    text = re.sub(r"(?<=\d)\s*[x×*/]\s*(?=\d)", "x", filled_text(given))
    try:
        return nominal_geometry(text)
    except ValueError as error:
        raise ValueError(str(error)) from None


Geometry = Annotated[str, BeforeValidator(_geometry), WithJsonSchema(TEXT)]
ConversionFactor = Annotated[
    float,
    _bounded(0.5, 2.0, "a factor between geometries lies from 0.5 to 2"),
    WithJsonSchema({"type": "number", "minimum": 0.5, "maximum": 2}),
]
Text = Annotated[str, BeforeValidator(text_of), WithJsonSchema(TEXT)]
Filled = Annotated[str, BeforeValidator(filled_text), WithJsonSchema(TEXT)]
FileNames = Annotated[tuple[str, ...], BeforeValidator(_file_names), WithJsonSchema(any_of(TEXT, list_of(TEXT)))]
PositiveDuration = Annotated[float, BeforeValidator(_positive_duration), WithJsonSchema(DURATION)]
NoNegativeDuration = Annotated[
    float, _checked(parse_duration, lambda hours: hours >= 0, "it must not be negative"), WithJsonSchema(DURATION)
]
Ages = Annotated[tuple[float, ...], BeforeValidator(_ages), WithJsonSchema(list_of(DURATION))]
Strengths = Annotated[tuple[float, ...], BeforeValidator(_strengths), WithJsonSchema(list_of(STRENGTH))]
Share = Annotated[float, BeforeValidator(_inside_one), WithJsonSchema(SHARE)]
NoNegativeShare = Annotated[
    float,
    _checked(parse_share, lambda share: 0 <= share <= 10, "it must lie within 0 and 1000 %"),
    WithJsonSchema(SHARE),
]
Tolerance = Annotated[float, BeforeValidator(_tolerance), WithJsonSchema(SHARE)]
Assurance = Annotated[float, BeforeValidator(_assurance), WithJsonSchema(SHARE)]
Count = Annotated[int, _count(least=1, most=100_000), WithJsonSchema(at_least(1, "integer"))]
NoNegativeCount = Annotated[int, _count(least=0, most=100_000), WithJsonSchema(at_least(0, "integer"))]
TrialBatches = Annotated[
    tuple[int, int],
    BeforeValidator(_trial_batches),
    WithJsonSchema(any_of(at_least(0, "integer"), list_of(at_least(1, "integer"), length=2))),
]
Number = Annotated[float, BeforeValidator(parse_number), WithJsonSchema(NUMBER)]
Positive = Annotated[
    float, _checked(parse_number, lambda value: value > 0, "it must be above 0"), WithJsonSchema(NUMBER)
]
Strength = Annotated[
    float, _bounded(1e-3, 400.0, "a strength lies above 0 and at most at 400 MPa"), WithJsonSchema(NUMBER)
]
MinutesPerBreak = Annotated[
    float, _bounded(0.1, 24 * 60.0, "one break takes from 0.1 to 1440 minutes"), WithJsonSchema(NUMBER)
]
NoNegative = Annotated[
    float, _checked(parse_number, lambda value: value >= 0, "it must not be negative"), WithJsonSchema(at_least(0))
]
LeastStrength = Annotated[float, _bounded(0.0, 400.0, "it must lie from 0 to 400 MPa"), WithJsonSchema(at_least(0))]
SettingHours = Annotated[
    float, _bounded(0.0, 1000.0, "hours until final set lie from 0 to 1000"), WithJsonSchema(at_least(0))
]
OverPredictionWeight = Annotated[
    float, _bounded(1.0, 1e6, "it must be 1 or more, and at most 1,000,000"), WithJsonSchema(at_least(1))
]
Temperature = Annotated[
    float,
    _checked(_temperature, lambda value: -50 <= value <= 120, "it must lie within -50 and 120 C"),
    WithJsonSchema(TEMPERATURE),
]
UnheatedTemperature = Annotated[
    float,
    _checked(_unheated_temperature, lambda value: -50 <= value <= 120, "it must lie within -50 and 120 C"),
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
TimeFormat = Annotated[ClockPattern, BeforeValidator(_time_format), WithJsonSchema(TEXT)]
SkipRows = Annotated[
    int,
    _checked(parse_whole, lambda count: 0 <= count <= 1000, "it must be a whole number up to 1000"),
    WithJsonSchema(at_least(0, "integer")),
]


def numbers_of(given: object) -> tuple[float, ...]:
    """Read a list of numbers.

    Raises
    ------
    ValueError
        If it is no list, or names every item that is no number.
    """
    values: tuple[float, ...] = one_or_more(parse_number, "numbers").func(given)  # type: ignore[call-arg]
    return values
