"""Numbers, shares, counts and texts of a plan: how each is read, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, TypeVar

from pydantic import BeforeValidator, WithJsonSchema

from planner.read.datetimes.clock_formats import ClockPattern, declared_pattern
from planner.read.parsing.findings import shown
from planner.read.parsing.quantities import parse_number, parse_share, parse_whole
from planner.read.plan.types.editor_kinds import (
    NUMBER,
    SHARE,
    TEXT,
    any_of,
    at_least,
    list_of,
)

Value = TypeVar("Value")

LEAST_SHARE = 1e-6
LEAST_TOLERANCE = 1e-4
LEAST_ASSURANCE, MOST_ASSURANCE = 0.5, 0.999
MOST_TRIAL_BATCHES = 5


def checked(parse: Callable[[object], Value], accepts: Callable[[Value], bool], allowed: str) -> BeforeValidator:
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


def bounded(least: float, most: float, allowed: str) -> BeforeValidator:
    return checked(parse_number, lambda value: least <= value <= most, allowed)


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


ConversionFactor = Annotated[
    float,
    bounded(0.5, 2.0, "a factor between geometries lies from 0.5 to 2"),
    WithJsonSchema({"type": "number", "minimum": 0.5, "maximum": 2}),
]
Text = Annotated[str, BeforeValidator(text_of), WithJsonSchema(TEXT)]
Filled = Annotated[str, BeforeValidator(filled_text), WithJsonSchema(TEXT)]
FileNames = Annotated[tuple[str, ...], BeforeValidator(_file_names), WithJsonSchema(any_of(TEXT, list_of(TEXT)))]
Share = Annotated[float, BeforeValidator(_inside_one), WithJsonSchema(SHARE)]
NoNegativeShare = Annotated[
    float,
    checked(parse_share, lambda share: 0 <= share <= 10, "it must lie within 0 and 1000 %"),
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
    float, checked(parse_number, lambda value: value > 0, "it must be above 0"), WithJsonSchema(NUMBER)
]
NoNegative = Annotated[
    float, checked(parse_number, lambda value: value >= 0, "it must not be negative"), WithJsonSchema(at_least(0))
]
OverPredictionWeight = Annotated[
    float, bounded(1.0, 1e6, "it must be 1 or more, and at most 1,000,000"), WithJsonSchema(at_least(1))
]
TimeFormat = Annotated[ClockPattern, BeforeValidator(_time_format), WithJsonSchema(TEXT)]
SkipRows = Annotated[
    int,
    checked(parse_whole, lambda count: 0 <= count <= 1000, "it must be a whole number up to 1000"),
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
