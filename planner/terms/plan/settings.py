"""A plan, checked and in canonical units: what is to be predicted, from what, at what price."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

from planner.terms.plan.early_breaks import Pours
from planner.terms.plan.mortar import MortarConstants
from planner.terms.plan.specimen_kinds import SpecimenKind
from planner.terms.records import Records
from planner.terms.schedule import Schedule

CurveName = Literal[
    "hyperbolic",
    "exponential",
    "logarithmic",
    "piecewise linear",
    "piecewise linear in log age",
    "population prior",
    "shape prior",
]
Weighting = Literal["absolute", "relative"]
CURVE_NAMES: tuple[CurveName, ...] = (
    "hyperbolic",
    "exponential",
    "logarithmic",
    "piecewise linear",
    "piecewise linear in log age",
)  # of one batch alone: what is searched where a plan names none
PRIOR_CURVE_NAMES: tuple[CurveName, ...] = ("population prior", "shape prior")  # have learnt from the other batches

OutputUnits = Literal["SI", "US"]
JudgedOn = Literal["later pour", "own batch"]
CastingWindow = tuple[dt.datetime, dt.datetime]  # first and last casting time; twice the same where one is given

BETWEEN_CASTINGS_H = 24.0  # from one trial batch to the next: common practice, no source
USUAL_COMPANIONS = 2  # of a site check, where the plan names none
IMMATERIAL_SHARE = 1.0 / 40.0  # of the tolerance: differences of the headline error not worth paying for


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What must be predicted, and how well."""

    ages_h: tuple[float, ...]  # ages to be predicted [h], rising; of a strength, when the records typically reach it
    tolerance: float  # relative, 0.10 = 10 %, both directions
    assurance: float = 0.90  # wanted share of batches inside the tolerance
    weights: tuple[float, ...] = ()  # one per age, any positive scale; () means equal
    combine: Literal["mean", "worst"] = "mean"
    over_prediction_weight: float = 1.0  # above 1 counts the dangerous side more
    judged_on: JudgedOn | None = None  # None: later pours where the records can tell, else the own batch
    immaterial: float | None = None  # relative; None: one fortieth of the tolerance
    strengths_mpa: tuple[float | None, ...] = ()  # one per age; None: the age itself is asked; (): all are ages
    geometry: str = ""  # what the specification speaks of; "" where it names none

    @property
    def immaterial_difference(self) -> float:
        """Differences of the headline error up to this are not worth paying for."""
        return self.tolerance * IMMATERIAL_SHARE if self.immaterial is None else self.immaterial

    @property
    def waits_mpa(self) -> tuple[float | None, ...]:
        """Of every target the strength that is waited for, None where an age is asked."""
        return self.strengths_mpa or (None,) * len(self.ages_h)

    @property
    def target_weights(self) -> tuple[float, ...]:
        """Weights of the ages, summing to 1."""
        weights = self.weights or (1.0,) * len(self.ages_h)
        return tuple(weight / sum(weights) for weight in weights)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """How the break records are to be understood."""

    standard_curing_c: float | None = None  # temperature of standard curing [C]
    within_test_cv: float | None = None  # stated scatter of replicates, relative; None: from the records
    within_test_cv_by_age: tuple[tuple[float, float], ...] = ()  # (age [h], CV) pairs; beats the single figure
    truth_cv_by_age: tuple[tuple[float, float], ...] = ()  # of truths of another geometry; (): from the records
    between_batch_cv: float | None = None  # stated spread between batches, where the records cannot tell
    hold_out: Literal["batch", "mix"] = "batch"
    geometry: str | None = None
    property: str = "compressive"
    published: str | None = None  # name of a published growth law, where there are no breaks
    strength_28d_mpa: float | None = None  # expected, with `published`


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceLimits:
    """What the laboratory can do."""

    ages_h: tuple[float, ...]  # candidate break ages [h], rising
    fewest_ages: int
    most_ages: int
    specimens_per_age: tuple[int, int]  # fewest and most at an age that is broken
    required_ages_h: tuple[float, ...] = ()
    minimum_gap_h: float = 0.0  # between one age and the next [h]
    least_strength_mpa: float = 0.0  # weaker concrete cannot be broken
    most_visits: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What may be spent."""

    specimens: int
    latest_age_h: float | None = None  # of the last break; not later than `ready_by_h` allows
    ready_by_h: float | None = None  # from the first casting to the final curve
    latest_age_asked_h: float | None = None  # `latest_age_h` as it would be without `ready_by_h`
    between_castings_h: float = BETWEEN_CASTINGS_H  # from one trial batch to the next, on the mean
    cost: float | None = None  # in the currency of the costs, without site checks, pours and contingency


@dataclass(frozen=True, slots=True, kw_only=True)
class MaturityGrid:
    """Constants that belong to the search."""

    equivalent_age_q_k: tuple[float, ...] = (4000.0, 5000.0, 6000.0)
    datum_c: tuple[float, ...] = (-10.0, -5.0, 0.0, 5.0)
    reference_c: float = 20.0
    mortar: MortarConstants | None = None  # where cubes of mortar tell; the lists above are then narrowed by it


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeSettings:
    """What a calibration needs beyond the specimens of the schedule."""

    instrumented: int = 2  # specimens with a temperature sensor, not broken
    spares: float = 0.0  # share of the schedule's specimens cast in reserve
    companions_per_check: int = 0  # broken beside each later site check; 0: nothing is said of them
    n_checks: int = 0  # site checks foreseen
    trial_batches: int = 1  # the fewest
    most_trial_batches: int | None = None  # None: as many as the fewest
    relies_on_records: bool = False  # nothing is to be cast; the other figures are then those of one trial batch

    @property
    def allowed_trial_batches(self) -> tuple[int, ...]:
        """Numbers of trial batches that are searched."""
        return tuple(range(self.trial_batches, (self.most_trial_batches or self.trial_batches) + 1))

    @property
    def companions_taken(self) -> int:
        """Companions of one site check: the usual number where nothing is said of them."""
        return self.companions_per_check or USUAL_COMPANIONS


CostBasis = Literal["programme", "batch", "specimen", "visit", "litre"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherCost:
    """A price that the usual keys do not cover: transport, a report, concrete by the litre."""

    name: str
    amount: float
    per: CostBasis  # of the trial batches; what serves site checks and pours is not counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Prices in one currency. Nothing is assumed: an item left out costs nothing and is said to be open."""

    currency: str
    specimen: float = 0.0  # making one
    preparation: float = 0.0  # end preparation of one
    break_one: float = 0.0  # breaking one
    visit: float = 0.0  # one attendance inside laboratory hours
    visit_outside_hours: float = 0.0  # one attendance outside laboratory hours
    instrumented: float = 0.0  # one instrumented specimen
    fixed: float = 0.0  # mobilisation and other fixed items, per trial batch
    casting: float = 0.0  # the crew of one trial batch, cast inside laboratory hours
    casting_outside_hours: float | None = None  # the same outside them, instead of `casting`; None: no dearer
    pour_break: float | None = None  # one early specimen of a later pour, all in; None: made, prepared and broken
    check_visit: float | None = None  # one attendance for a site check; None: as `visit`
    contingency: float = 0.0  # share of everything else
    other: tuple[OtherCost, ...] = ()
    litres_each: float | None = None  # concrete for one specimen, waste included [L]; None: no one geometry is known
    are_ends_prepared: bool = True  # ground or capped; cubes are broken on moulded faces

    def of_casting(self, *, is_outside_hours: bool) -> float:
        """What the crew of one trial batch costs."""
        dearer = self.casting_outside_hours if is_outside_hours else None
        return self.casting if dearer is None else dearer

    @property
    def of_pour_break(self) -> float:
        """One early specimen of a later pour."""
        each = self.specimen + self.preparation + self.break_one
        return each if self.pour_break is None else self.pour_break

    @property
    def of_check_visit(self) -> float:
        """One attendance for a site check."""
        return self.visit if self.check_visit is None else self.check_visit

    @property
    def key_of_check_visit(self) -> str:
        """Which key of the plan gives that price."""
        return "visit" if self.check_visit is None else "check_visit"

    @property
    def of_companions_visit(self) -> float:
        """One attendance inside hours to break companions of a trial batch, with what the plan names for each visit."""
        return self.of_check_visit + self.other_per("visit")

    @property
    def other_each_specimen(self) -> float:
        """What one specimen of a trial batch costs beside the usual prices, its concrete included."""
        return self.other_per("specimen") + (self.litres_each or 0.0) * self.other_per("litre")

    def other_per(self, basis: CostBasis) -> float:
        """The other prices on one basis, added."""
        return sum(item.amount for item in self.other if item.per == basis)


@dataclass(frozen=True, slots=True, kw_only=True)
class Laboratory:
    """When the laboratory is open and how fast it breaks."""

    opens: dt.time = dt.time(0, 0)
    closes: dt.time = dt.time(0, 0)  # equal to `opens`: round the clock
    days: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)  # Monday is 0
    closed: tuple[dt.date, ...] = ()
    time_zone: str = "UTC"
    age_tolerances: str = "ASTM C39"
    minutes_per_break: float = 10.0
    is_break_time_stated: bool = False  # by the plan: counts that take too long are then not offered
    machines: int = 1
    machine_kn: tuple[float, float] | None = None  # verified range of the testing machine [kN]; None: not told
    form_removal_h: float | None = None  # earliest removal of the forms [h]
    casting_hours: tuple[dt.time, dt.time] | None = None  # of trial batches, on working days; None: opening hours

    @property
    def hours_of_casting(self) -> tuple[dt.time, dt.time]:
        """First and last hour at which trial batches are cast on working days; equal: round the clock."""
        return self.casting_hours or (self.opens, self.closes)

    @property
    def is_round_the_clock(self) -> bool:
        return self.opens == self.closes

    @property
    def is_always_open(self) -> bool:
        """Round the clock on every day: also what is taken where a plan names no hours."""
        return self.is_round_the_clock and not self.closed and len(set(self.days)) == 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The whole plan but its records."""

    target: Target
    choices: ChoiceLimits
    budget: Budget
    prior: Prior = field(default_factory=Prior)
    maturity: MaturityGrid = field(default_factory=MaturityGrid)
    curves: tuple[CurveName, ...] = CURVE_NAMES
    compare: tuple[Schedule, ...] = ()
    title: str = ""
    mix_name: str = ""
    final_set_h: float = 0.0  # ages before it are not offered
    aggregate_mm: float | None = None  # largest aggregate; None: the plan does not say
    fibre_mm: float | None = None  # length of fibres; None: the plan names none
    site_temperature_c: tuple[float, float] | None = None  # mean inside the concrete, coolest and warmest
    programme: ProgrammeSettings | None = None
    costs: Costs | None = None
    laboratory: Laboratory | None = None
    specimens: tuple[SpecimenKind, ...] = ()  # what could be cast; (): the geometry of the records
    limits_taken: str = "ASTM C39"  # age tolerances where the plan names none
    pours: Pours | None = None  # None: a later pour breaks nothing before it is read
    output_units: OutputUnits = "SI"  # of every screen, page and sheet; JSON stays SI
    castings: tuple[CastingWindow, ...] = ()  # asked for in this run, for every trial batch or one each; (): any hour

    @property
    def laboratory_taken(self) -> Laboratory:
        """The laboratory; where the plan names none, one that never closes."""
        return self.laboratory or Laboratory(age_tolerances=self.limits_taken)

    @property
    def programme_asked(self) -> ProgrammeSettings:
        """What is needed beyond the schedule; where the plan says nothing of it, nothing."""
        return self.programme or ProgrammeSettings(instrumented=0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """What the reading door hands to the corridor."""

    settings: Settings
    records: Records
    name: str = "plan.toml"  # file name of the plan
    inputs: tuple[tuple[str, str], ...] = ()  # (file name, "sha256...") of everything read
