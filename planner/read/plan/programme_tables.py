"""Tables of a plan about what is cast and broken and what it costs: programme, prices, laboratory, pours, specimens."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from planner.read.plan.plan_table import PlanTable, said
from planner.read.plan.types.cost_types import BASES, Contingency, Currency, OtherCosts
from planner.read.plan.types.laboratory_types import Dates, Days, HoursOpen, LoadRange, TimeZone
from planner.read.plan.types.name_types import ToleranceStandard
from planner.read.plan.types.number_types import (
    ConversionFactor,
    Count,
    NoNegative,
    NoNegativeCount,
    NoNegativeShare,
    Share,
    TrialBatches,
)
from planner.read.plan.types.quantity_types import (
    Ages,
    Geometry,
    MinutesPerBreak,
    PositiveDuration,
    SpecimensPerAge,
)
from planner.terms.plan.settings import Laboratory, ProgrammeSettings

LABORATORY, PROGRAMME = Laboratory(), ProgrammeSettings()  # where defaults stand


class ProgrammeTable(PlanTable):
    """What a calibration needs beyond the specimens of the schedule."""

    instrumented: Annotated[NoNegativeCount, said("specimens with a temperature sensor, not broken", 2)] = (
        PROGRAMME.instrumented
    )
    spares: Annotated[NoNegativeShare, said("cast in reserve, as a share of those to be broken", "10 %")] = (
        PROGRAMME.spares
    )
    companions_per_check: Annotated[
        NoNegativeCount, said("site-cured companions broken at each later site check", 3)
    ] = PROGRAMME.companions_per_check
    checks: Annotated[NoNegativeCount, said("site checks that are foreseen", 20)] = PROGRAMME.n_checks
    trial_batches: Annotated[
        TrialBatches, said("batches cast for the calibration, or the fewest and the most like [1, 3]; 0: none", 1)
    ] = (PROGRAMME.trial_batches, PROGRAMME.trial_batches)


class CostsTable(PlanTable):
    """Prices."""

    currency: Annotated[Currency, said("of all prices here", "EUR")]
    specimen: Annotated[NoNegative, said("making one", 18)] = 0.0
    preparation: Annotated[NoNegative, said("end preparation of one", 12)] = 0.0
    break_one: Annotated[NoNegative, said("breaking one", 25)] = Field(default=0.0, alias="break")
    visit: Annotated[NoNegative, said("one attendance inside laboratory hours", 90)] = 0.0
    casting: Annotated[NoNegative, said("the crew that casts one trial batch, inside laboratory hours", 150)] = 0.0
    casting_outside_hours: Annotated[
        NoNegative | None, said("the same outside them, instead; left out: no dearer", 400)
    ] = None
    visit_outside_hours: Annotated[NoNegative, said("one attendance outside them", 240)] = 0.0
    instrumented: Annotated[NoNegative, said("one specimen with a sensor", 60)] = 0.0
    fixed: Annotated[NoNegative, said("mobilisation and the like, for each trial batch", 400)] = 0.0
    pour_break: Annotated[NoNegative | None, said("one early specimen of a later pour, all in", 30)] = None
    check_visit: Annotated[NoNegative | None, said("one attendance for a site check; left out: as visit", 35)] = None
    contingency: Annotated[
        Contingency, said("share of everything else; stands last in the estimate, no limit counts it", "10 %")
    ] = 0.0
    other: Annotated[
        OtherCosts,
        said(
            f"anything else, also as tables [[costs.other]]; per {', '.join(BASES)}",
            [{"name": "transport", "amount": 60, "per": "batch"}],
        ),
    ] = ()


class LaboratoryTable(PlanTable):
    """When the laboratory is open and how fast it breaks."""

    open: Annotated[HoursOpen, said("opening hours; left out: round the clock", "07:00-17:00")] = (
        LABORATORY.opens,
        LABORATORY.closes,
    )
    days: Annotated[Days, said("working days; left out: every day", "Mon-Fri")] = LABORATORY.days
    closed: Annotated[Dates, said("holidays", ["2027-03-19"])] = LABORATORY.closed
    time_zone: Annotated[TimeZone, said("of the laboratory's clock", "Europe/Oslo")] = LABORATORY.time_zone
    age_tolerances: Annotated[
        ToleranceStandard | None,
        said("how far off its age a break may be; left out: ASTM C39, of cubes and prisms 2 % of the age", "ASTM C39"),
    ] = None
    minutes_per_break: Annotated[
        MinutesPerBreak | None, said("at the testing machine; counts too slow for age_tolerances are not offered", 4)
    ] = None
    machines: Annotated[Count, said("testing machines that work at the same time", 1)] = LABORATORY.machines
    machine_kn: Annotated[
        LoadRange | None, said("least and most load the testing machine is verified for", [20, 3000])
    ] = None
    casting_hours: Annotated[
        HoursOpen | None, said("hours in which trial batches are cast; left out: opening hours", "07:00-16:00")
    ] = LABORATORY.casting_hours
    form_removal: Annotated[PositiveDuration | None, said("earliest removal of the forms", "16 h")] = (
        LABORATORY.form_removal_h
    )


class PoursTable(PlanTable):
    """What every later pour may break before it is read."""

    early_ages: Annotated[Ages, said("ages before a target; a break serves the targets after it", ["4 h"])]
    specimens_per_age: Annotated[SpecimensPerAge, said("fewest and most at an early age", [1, 2])] = (1, 2)
    most_specimens: Annotated[Count, said("of one pour, at most", 4)] = 4
    curing: Annotated[Literal["standard", "site"], said("how they are cured", "standard")] = "standard"
    number: Annotated[Count | None, said("pours that the calibration serves, for their money", 40)] = None


class SpecimensTable(PlanTable):
    """A geometry that the laboratory could cast; one such table for each, and the best of each stand side by side."""

    geometry: Annotated[Geometry, said("shape and size; the records hold breaks of it", "cube 100 mm")]
    specimen: Annotated[NoNegative | None, said("making one; left out: as in costs", 9)] = None
    preparation: Annotated[NoNegative | None, said("end preparation of one; left out: as in costs", 0)] = None
    break_one: Annotated[NoNegative | None, said("breaking one; left out: as in costs", 20)] = Field(
        default=None, alias="break"
    )
    minutes_per_break: Annotated[
        MinutesPerBreak | None, said("at the testing machine; left out: as in laboratory", 6)
    ] = None
    within_test_cv: Annotated[
        Share | None, said("scatter of specimens broken together, where the records cannot tell", "4 %")
    ] = None
    factor: Annotated[
        ConversionFactor | None,
        said("times this strength is that in the target's geometry; only where no pairs were cast together", 0.85),
    ] = None
    factor_cv: Annotated[Share | None, said("scatter of that factor from batch to batch", "5 %")] = None
