"""Frozen answers to the two questions beside the recommendation: what does it cost, what is the least.

Errors are relative (0.10 = 10 %). Unless a field says otherwise they are nested: the whole choosing was
repeated without the batch that the error is of. Renderers decide nothing; whatever they say stands here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, Weighting
from planner.terms.promise import Promise
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_count import Estimate
from planner.terms.results.recommendation import Recommendation
from planner.terms.schedule import Schedule

Need = Literal["must be there", "may be there", "does not help"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PricePoint:
    """The lowest error that a limit on specimens or on money allows. A real schedule, an honest error."""

    limit: float  # the limit on specimens or money
    n_specimens: int
    cost: float | None
    schedule: Schedule
    curve: CurveName
    weighting: Weighting
    maturity: MaturitySetting
    rms: float  # own batch; never rises along the frontier
    rms_unsmoothed: float  # before neighbours that rose were pooled
    within_tolerance: Promise
    later_rms: float | None  # the same curve on a later pour


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenGain:
    """What one more specimen at one age of the recommended schedule buys."""

    age_h: float
    n_now: int
    rms_now: float
    rms_then: float
    is_allowed: bool  # within [choices] specimens_per_age and the budget


@dataclass(frozen=True, slots=True, kw_only=True)
class Equality:
    """How many specimens another schedule needs to equal the recommended one."""

    label: ChoiceRole
    schedule: Schedule
    rms: float
    rms_recommended: float
    n_specimens_needed: int | None  # None: no number will, the rest of its error is curve
    schedule_needed: Schedule | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PriceAnswer:
    """What knowing the strength costs, and what more would buy."""

    recommendation: Recommendation
    by_specimens: tuple[PricePoint, ...]
    by_cost: tuple[PricePoint, ...]  # () without prices
    gains: tuple[SpecimenGain, ...]
    equalities: tuple[Equality, ...]
    estimates: tuple[Estimate, ...]
    budget_cost: float | None
    to_fill_in: tuple[str, ...]  # prices the plan leaves out, as keys of [costs]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The lowest error under some restriction, and the schedule that has it on all batches."""

    schedule: Schedule
    curve: CurveName
    maturity: MaturitySetting
    rms: float
    score_rms: float  # root of the ranking loss on all batches: apparent, but steadier than `rms`
    within_tolerance: Promise
    within_tolerance_lower_95: Promise | None
    is_inside: bool  # the share inside reaches the assurance
    later_rms: float | None
    later_within_tolerance: Promise | None
    cost: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeNeed:
    """Whether one candidate age has to be there."""

    age_h: float
    multiple: float  # of the target's maturity, both in hours at the reference temperature
    need: Need
    score_with: float | None  # lowest root loss with it, on all batches; None where no schedule holds it
    score_without: float | None  # and without it; None where no schedule does without
    rms_with: float | None  # the same on batches left out: unbiased, but moved by chance
    rms_without: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeBound:
    """How late the first break may be, or how early the last."""

    which: Literal["first break", "last break"]
    age_h: float  # the latest first, or the earliest last, that keeps the error inside
    multiple: float  # of the earliest target's maturity (first break), of the latest's (last break)
    rms: float
    is_free: bool  # even the extreme candidate keeps it inside: no bound was found


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstraintPrice:
    """What one constraint costs."""

    name: str
    standing: Standing | None  # None: no schedule obeys it
    rms_more: float | None  # lowest error against that without the constraint; below 0 it is noise
    fewest_specimens: int | None  # that keep the error inside under it
    specimens_more: int | None  # than the fewest without it
    cost_more: float | None  # of those fewest


@dataclass(frozen=True, slots=True, kw_only=True)
class LearntRule:
    """One rule read off the scored choices, with its support."""

    text: str
    n_schedules: int  # that obey it
    n_scored: int
    share_inside: Promise  # of those, with a ranking score inside the tolerance on all batches together
    rms: float  # their median ranking score: root of the loss, larger than the RMS error
    n_held_out: int  # batches it was learnt without and checked on
    n_held_out_better: int  # of those, where schedules that obey it beat the rest
    held_out_rms: float | None  # median ranking score of schedules that obey it there
    held_out_rms_others: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetMinimum:
    """What one target age asks for; all targets together where `age_h` is None."""

    age_h: float | None
    maturity_h: float  # typical maturity at the check, hours at the reference temperature
    maturity_span_h: tuple[float, float]  # coolest to warmest check
    strength_mpa: tuple[float, float, float]  # lowest, mean, highest truth in the records
    n_batches: int
    n_schedules: int
    unrestricted: Standing | None
    fewest: Standing | None  # fewest ages, then specimens, on both sides of the target; None: none do
    ages: tuple[AgeNeed, ...]
    most_specimens: int  # within which the ages were compared: the fewest, and one age more
    bounds: tuple[AgeBound, ...]
    constraints: tuple[ConstraintPrice, ...]
    rules: tuple[LearntRule, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseAge:
    """One required age."""

    age_h: float
    n_specimens: int
    permitted_deviation_h: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Clause:
    """A draft for the engineer. Without ages where the records do not carry one."""

    heading: str
    ages: tuple[ClauseAge, ...]
    paragraphs: tuple[tuple[str, str], ...]  # (subject, text)
    temperature_c: tuple[float, float] | None  # mean concrete temperature it holds for
    refused_because: str  # "" where the clause stands


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MinimumAnswer:
    """The least that has to be broken, target by target, and a clause that asks for it."""

    recommendation: Recommendation  # of the plan as it stands, with its cautions
    together: TargetMinimum  # all targets at once
    targets: tuple[TargetMinimum, ...]
    clause: Clause
