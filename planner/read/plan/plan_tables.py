"""The tables of a plan, key by key, with the kind of value each key takes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from planner.read.casting.reading_context import Place
from planner.read.parsing.curings import read_curing
from planner.read.parsing.findings import shown
from planner.read.parsing.nearest_name import nearest
from planner.read.plan.plan_types import (
    Ages,
    Assurance,
    Count,
    Dates,
    Days,
    Filled,
    HoursOpen,
    LeastStrength,
    MinutesPerBreak,
    NoNegative,
    NoNegativeCount,
    NoNegativeDuration,
    NoNegativeShare,
    Number,
    OverPredictionWeight,
    Positive,
    PositiveDuration,
    Scatter,
    SettingHours,
    Share,
    SiteTemperatures,
    SkipRows,
    SpecimensPerAge,
    Strength,
    Temperature,
    Text,
    TimeFormat,
    TimeZone,
    Tolerance,
    TrialBatches,
    numbers_of,
)
from planner.terms.settings import CURVE_NAMES, CurveName
from planner.terms.tolerances import age_tolerances


def _curve(given: object) -> CurveName:
    for name in CURVE_NAMES:
        if isinstance(given, str) and given.strip().lower() == name:
            return name
    near = nearest(str(given), CURVE_NAMES)
    guess = f' Perhaps "{near}" is meant.' if near else ""
    raise ValueError(f"Given {shown(given)}; the curves are {', '.join(CURVE_NAMES)}.{guess}")


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


class PlanTable(BaseModel):
    """A table that refuses keys it does not know."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class MixTable(PlanTable):
    """What the advice is for."""

    name: Text = ""
    final_set_h: SettingHours = 0.0


class PriorTable(PlanTable):
    """What has been broken already."""

    breaks: Filled | None = None
    temperatures: Filled | None = None
    standard_curing_c: Temperature | None = None
    within_test_cv: Scatter | None = None
    between_batch_cv: Share | None = None
    hold_out: Literal["batch", "mix"] = "batch"
    geometry: Filled | None = None
    batches: Filled | None = None
    property: Filled = "compressive"
    time_format: TimeFormat | None = None
    published: Filled | None = None
    strength_28d_mpa: Strength | None = None


class TemperatureFileTable(PlanTable):
    """How the export of a logger is to be read."""

    time_format: TimeFormat | None = None
    time_zone: TimeZone | None = None
    skip_rows: SkipRows = 0
    columns: Annotated[dict[str, Place], BeforeValidator(_places)] = Field(default_factory=dict)
    unit: Literal["C", "F"] | None = None
    age_zero: Literal["cast_at", "first reading"] = "cast_at"


class TargetTable(PlanTable):
    """What must be predicted."""

    ages: Ages
    tolerance: Tolerance
    assurance: Assurance = 0.90
    weights: Annotated[tuple[float, ...], BeforeValidator(numbers_of)] = ()
    combine: Literal["mean", "worst"] = "mean"
    over_prediction_weight: OverPredictionWeight = 1.0


class SiteTable(PlanTable):
    """The temperatures expected inside the concrete."""

    mean_concrete_temperature_c: SiteTemperatures


class ChoicesTable(PlanTable):
    """What the laboratory can do."""

    ages: Ages
    fewest_ages: Count
    most_ages: Count
    specimens_per_age: SpecimensPerAge
    required_ages: Ages | None = None
    minimum_gap: NoNegativeDuration = 0.0
    least_strength_mpa: LeastStrength = 0.0
    most_visits: Count | None = None


class BudgetTable(PlanTable):
    """What may be spent."""

    specimens: Count
    cost: Positive | None = None
    latest_age: PositiveDuration | None = None


class CurvesTable(PlanTable):
    """Which curves may be fitted."""

    families: Annotated[tuple[CurveName, ...], BeforeValidator(_curves)] = CURVE_NAMES


class MaturityTable(PlanTable):
    """Which maturity constants may be used."""

    equivalent_age_q_k: Annotated[tuple[float, ...], BeforeValidator(numbers_of)] | None = None
    reference_c: Number = 20.0
    datum_c: Annotated[tuple[float, ...], BeforeValidator(numbers_of)] | None = None


class CompareTable(PlanTable):
    """Schedules to be shown beside the recommendation."""

    schedules: Annotated[tuple[str, ...], BeforeValidator(_schedule_texts)] = ()


class ProgrammeTable(PlanTable):
    """What a calibration needs beyond the specimens of the schedule."""

    instrumented: NoNegativeCount = 2
    spares: NoNegativeShare = 0.0
    companions_per_check: NoNegativeCount = 0
    checks: NoNegativeCount = 0
    trial_batches: TrialBatches = 1


class CostsTable(PlanTable):
    """Prices."""

    currency: Filled
    specimen: NoNegative = 0.0
    preparation: NoNegative = 0.0
    break_one: NoNegative = Field(default=0.0, alias="break")
    visit: NoNegative = 0.0
    visit_outside_hours: NoNegative = 0.0
    instrumented: NoNegative = 0.0
    fixed: NoNegative = 0.0


class LaboratoryTable(PlanTable):
    """When the laboratory is open and how fast it breaks."""

    open: HoursOpen | None = None
    days: Days | None = None
    closed: Dates = ()
    time_zone: TimeZone | None = None
    age_tolerances: Annotated[str, BeforeValidator(_tolerance_table)] = "ASTM C39"
    minutes_per_break: MinutesPerBreak = 10.0
    machines: Count = 1
    form_removal: PositiveDuration | None = None


TABLES: dict[str, type[PlanTable]] = {
    "mix": MixTable,
    "prior": PriorTable,
    "temperature_file": TemperatureFileTable,
    "target": TargetTable,
    "site": SiteTable,
    "choices": ChoicesTable,
    "budget": BudgetTable,
    "curves": CurvesTable,
    "maturity": MaturityTable,
    "compare": CompareTable,
    "programme": ProgrammeTable,
    "costs": CostsTable,
    "laboratory": LaboratoryTable,
}
REQUIRED = ("prior", "target", "choices", "budget")


def keys_of(table: str) -> tuple[str, ...]:
    """List the keys of a table as a plan writes them."""
    return tuple(field.alias or name for name, field in TABLES[table].model_fields.items())
