"""The tables of a plan, key by key, with the kind of value each key takes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from planner.read.plan.plan_table import PlanTable, said
from planner.read.plan.programme_tables import CostsTable, LaboratoryTable, PoursTable, ProgrammeTable, SpecimensTable
from planner.read.plan.types.laboratory_types import TimeZone
from planner.read.plan.types.name_types import CurveNames, Numbers, ScheduleTexts, SensorPlaces
from planner.read.plan.types.number_types import (
    Assurance,
    Count,
    FileNames,
    Filled,
    NoNegativeShare,
    Number,
    OverPredictionWeight,
    Positive,
    Share,
    SkipRows,
    Text,
    TimeFormat,
    Tolerance,
)
from planner.read.plan.types.quantity_types import (
    Ages,
    Geometry,
    LeastStrength,
    NoNegativeDuration,
    PositiveDuration,
    Scatter,
    SettingHours,
    SiteTemperatures,
    SpecimensPerAge,
    Strength,
    Strengths,
    UnheatedTemperature,
)
from planner.terms.plan.settings import CURVE_NAMES


class MixTable(PlanTable):
    """What the advice is for."""

    name: Annotated[Text, said("the name as it shall stand on every output", "everyday slab mix")] = ""
    final_set_h: Annotated[SettingHours, said("hours until final set; no break is offered before it", 7)] = 0.0
    aggregate_mm: Annotated[Positive | None, said("largest aggregate; specimens too small for it are named", 16)] = None
    fibre_mm: Annotated[Positive | None, said("length of fibres; specimens too small for them are named", 30)] = None


class PriorTable(PlanTable):
    """What has been broken already."""

    breaks: Annotated[
        FileNames | None,
        said("one row per specimen; path from this file's folder; or several in [ ]", "breaks.csv"),
    ] = None
    temperatures: Annotated[
        FileNames | None, said("one row per reading inside the concrete; or several in [ ]", "temperatures.csv")
    ] = None
    standard_curing_c: Annotated[
        UnheatedTemperature | None, said("temperature of the curing room, used where a batch has no reading", 20)
    ] = None
    within_test_cv: Annotated[
        Scatter | None,
        said("scatter of specimens broken together, where single ones hide it; or by age in braces", "3 %"),
    ] = None
    between_batch_cv: Annotated[
        Share | None, said("spread between batches, only where the records cannot tell", "7 %")
    ] = None
    hold_out: Annotated[
        Literal["batch", "mix"], said('judge on batches left out; "mix" asks for advice on another mix', "batch")
    ] = "batch"
    geometry: Annotated[Filled | None, said("use the breaks of this geometry only", "cylinder 100x200 mm")] = None
    batches: Annotated[Filled | None, said("one row per batch: when it was cast", "batches.csv")] = None
    property: Annotated[Filled, said("which strength, where the table names several", "compressive")] = "compressive"
    time_format: Annotated[TimeFormat | None, said("how clock times in the tables are written", "DD.MM.YYYY HH:mm")] = (
        None
    )
    published: Annotated[
        Filled | None, said("a published growth law, only where there are no breaks", "EN 1992-1-1 class R")
    ] = None
    strength_28d_mpa: Annotated[Strength | None, said("expected at 28 d; goes with published", 60)] = None


class TemperatureFileTable(PlanTable):
    """How the export of a logger is to be read."""

    time_format: Annotated[TimeFormat | None, said("how clock times of the logger are written", "DD.MM.YYYY HH:mm")] = (
        None
    )
    time_zone: Annotated[TimeZone | None, said("zone of the logger's clock", "Europe/Oslo")] = None
    skip_rows: Annotated[SkipRows, said("lines before the headings", 0)] = 0
    columns: Annotated[
        SensorPlaces,
        said("which sensor heading sat where: batch/curing or batch/curing/placement", {"Sensor 1": "B1/site"}),
    ] = Field(default_factory=dict)
    unit: Annotated[Literal["C", "F"] | None, said("of the readings, where the headings do not say", "C")] = None
    age_zero: Annotated[
        Literal["cast_at", "first reading"], said("when the age of a logger's batch begins", "cast_at")
    ] = "cast_at"


class TargetTable(PlanTable):
    """What must be predicted."""

    ages: Annotated[Ages, said("hours or days after casting", ["16 h", "3 d"])] = ()
    strengths: Annotated[Strengths, said("strengths that the site waits for, beside ages or instead", ["20 MPa"])] = ()
    tolerance: Annotated[Tolerance, said("how far off a prediction may be, either way; it is no safety margin", "10 %")]
    assurance: Annotated[Assurance, said("wanted share of batches inside the tolerance", "90 %")] = 0.90
    weights: Annotated[
        Numbers, said("one for each age, then one for each strength, any scale; left out: equal", [1, 1])
    ] = ()
    combine: Annotated[Literal["mean", "worst"], said("of several ages: their mean, or the worst", "mean")] = "mean"
    over_prediction_weight: Annotated[OverPredictionWeight, said("above 1 counts the dangerous side more", 1.0)] = 1.0
    judged_on: Annotated[
        Literal["later pour", "own batch"] | None,
        said("what readings are judged on; left out: later pours where the records can tell", "later pour"),
    ] = None
    immaterial: Annotated[
        NoNegativeShare | None,
        said("differences of the headline error not worth paying for; left out: tolerance / 40", "0.25 %"),
    ] = None
    geometry: Annotated[
        Geometry | None,
        said("the specimen that the specification speaks of; goes with specimens", "cylinder 150x300 mm"),
    ] = None


class SiteTable(PlanTable):
    """The temperatures expected inside the concrete."""

    mean_concrete_temperature_c: Annotated[
        SiteTemperatures, said("coolest and warmest mean inside the concrete", [12, 35])
    ]


class ChoicesTable(PlanTable):
    """What the laboratory can do."""

    ages: Annotated[Ages, said("ages at which it could break", ["12 h", "1 d", "3 d", "7 d", "28 d"])]
    fewest_ages: Annotated[Count, said("ages in one schedule, at least", 3)]
    most_ages: Annotated[Count, said("and at most", 6)]
    specimens_per_age: Annotated[SpecimensPerAge, said("fewest and most specimens at an age that is broken", [2, 3])]
    required_ages: Annotated[Ages | None, said("ages that must be broken", ["28 d"])] = None
    minimum_gap: Annotated[NoNegativeDuration, said("between one age and the next", "2 h")] = 0.0
    least_strength_mpa: Annotated[LeastStrength, said("weaker concrete cannot be broken", 3)] = 0.0
    most_visits: Annotated[Count | None, said("attendances at the testing machine, at most", 5)] = None


class BudgetTable(PlanTable):
    """What may be spent."""

    specimens: Annotated[Count, said("broken in the whole calibration, at most", 18)]
    cost: Annotated[Positive | None, said("money for the whole calibration, at most; needs the table costs", 6000)] = (
        None
    )
    latest_age: Annotated[PositiveDuration | None, said("when the last break must be done", "28 d")] = None
    ready_by: Annotated[
        PositiveDuration | None, said("from the first casting to the final curve, trial batches a day apart", "10 d")
    ] = None


class CurvesTable(PlanTable):
    """Which curves may be fitted."""

    families: Annotated[
        CurveNames,
        said(
            'curves that may be fitted; left out: these. "population prior", "shape prior" learn from other batches',
            list(CURVE_NAMES),
        ),
    ] = CURVE_NAMES


class MaturityTable(PlanTable):
    """Which maturity constants may be used."""

    equivalent_age_q_k: Annotated[
        Numbers | None, said("Q of the equivalent age [K]; steps above 500 are halved", [4000, 5000, 6000])
    ] = None
    reference_c: Annotated[Number, said("temperature at which an hour counts as an hour", 20)] = 20.0
    datum_c: Annotated[Numbers | None, said("datum temperatures; steps above 2.5 are halved", [-10, -5, 0, 5])] = None
    mortar: Annotated[
        Filled | None, said("cubes of the mix's mortar at three temperatures: they tell Q and datum", "mortar.csv")
    ] = None


class CompareTable(PlanTable):
    """Schedules to be shown beside the recommendation."""

    schedules: Annotated[ScheduleTexts, said("each age with its specimens", ["1 d x3, 3 d x3, 7 d x3, 28 d x3"])] = ()


class OutputTable(PlanTable):
    """How answers are shown."""

    units: Annotated[
        Literal["SI", "US"], said("SI, or US: psi, F, in and ft3 on every screen, page and sheet; JSON stays SI", "US")
    ] = "SI"


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
    "pours": PoursTable,
    "costs": CostsTable,
    "laboratory": LaboratoryTable,
    "output": OutputTable,
}
LISTS: dict[str, type[PlanTable]] = {"specimens": SpecimensTable}  # as [[specimens]], one table for each
REQUIRED = ("prior", "target", "choices", "budget")


def keys_of(table: str) -> tuple[str, ...]:
    """List the keys of a table as a plan writes them."""
    model = TABLES.get(table) or LISTS[table]
    return tuple(field.alias or name for name, field in model.model_fields.items())
