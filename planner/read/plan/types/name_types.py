"""Values of a plan that are lists, tables and names: curves, schedules, sensors, standards."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

from planner.read.casting.reading_context import Place
from planner.read.parsing.curings import read_curing
from planner.read.parsing.findings import shown
from planner.read.parsing.nearest_name import nearest
from planner.read.plan.types.number_types import numbers_of
from planner.terms.plan.settings import CURVE_NAMES, PRIOR_CURVE_NAMES, CurveName
from planner.terms.plan.tolerances import age_tolerances

ALL_CURVES = (*CURVE_NAMES, *PRIOR_CURVE_NAMES)


def _curve(given: object) -> CurveName:
    for name in ALL_CURVES:
        if isinstance(given, str) and given.strip().lower() == name:
            return name
    near = nearest(str(given), ALL_CURVES)
    guess = f' Perhaps "{near}" is meant.' if near else ""
    raise ValueError(f"Given {shown(given)}; the curves are {', '.join(ALL_CURVES)}.{guess}")


def _curves(given: object) -> tuple[CurveName, ...]:
    if not isinstance(given, list) or not given:
        raise ValueError(f"Given {shown(given)}; write a list of curves in brackets, at least one.")
    return tuple(dict.fromkeys(_curve(item) for item in given))


def _schedule_texts(given: object) -> tuple[str, ...]:
    if not isinstance(given, list) or not all(isinstance(item, str) for item in given):
        raise ValueError(f'Given {shown(given)}; write a list of schedules like ["1 d x3, 28 d x2"].')
    return tuple(given)


def _tolerance_table(given: object) -> str:
    if not isinstance(given, str):
        raise ValueError(f'Given {shown(given)}; write a text like "ASTM C39".')
    age_tolerances(given)
    return given


def _places(given: object) -> dict[str, Place]:
    """Read which sensor heading sat where: "batch/curing" or "batch/curing/placement"."""
    how = 'Write it like {"Sensor 1" = "B1/site/north"}'
    if not isinstance(given, dict) or not given:
        raise ValueError(f"Given {shown(given)}. {how}.")
    places: dict[str, Place] = {}
    faults: list[str] = []
    for heading, text in given.items():
        parts = [part.strip() for part in text.split("/")] if isinstance(text, str) else []
        if len(parts) not in (2, 3) or not all(parts):
            faults.append(f"Given {shown(text)} for {shown(heading)}. {how}.")
            continue
        try:
            places[heading] = Place(parts[0], read_curing(parts[1]), parts[2] if len(parts) == 3 else "")
        except ValueError as error:
            faults.append(str(error))
    if faults:
        raise ValueError(" ".join(faults))
    return places


Numbers = Annotated[
    tuple[float, ...], BeforeValidator(numbers_of), WithJsonSchema({"type": "array", "items": {"type": "number"}})
]
CurveNames = Annotated[
    tuple[CurveName, ...],
    BeforeValidator(_curves),
    WithJsonSchema({"type": "array", "minItems": 1, "items": {"type": "string", "examples": list(ALL_CURVES)}}),
]
ScheduleTexts = Annotated[
    tuple[str, ...],
    BeforeValidator(_schedule_texts),
    WithJsonSchema({"type": "array", "items": {"type": "string"}}),
]
ToleranceStandard = Annotated[str, BeforeValidator(_tolerance_table), WithJsonSchema({"type": "string"})]
SensorPlaces = Annotated[
    dict[str, Place],
    BeforeValidator(_places),
    WithJsonSchema({"type": "object", "minProperties": 1, "additionalProperties": {"type": "string"}}),
]
