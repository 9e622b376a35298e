"""The frozen answer to an estimator: what knowing the strength costs, and what more would buy.

Errors are relative (0.10 = 10 %). Unless a field says otherwise they are nested: the whole choosing was
repeated without the batch that the error is of. Renderers decide nothing; whatever they say stands here.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, Weighting
from planner.terms.promise import Promise
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.price_parts import Alternative, Risk
from planner.terms.results.programme_count import Estimate
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule


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
    """What one specimen more, or one less, at one age of the recommended schedule does."""

    age_h: float
    n_now: int
    rms_now: float
    rms_then: float
    is_allowed: bool  # within [choices] specimens_per_age and the budget
    cost: float | None = None  # of one specimen more in every trial batch, negative of one less; None without prices


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
    gains: tuple[SpecimenGain, ...]  # one more at each age
    equalities: tuple[Equality, ...]
    estimates: tuple[Estimate, ...]
    budget_cost: float | None
    to_fill_in: tuple[str, ...]  # prices the plan leaves out: keys of [costs], names of [[costs.other]]
    losses: tuple[SpecimenGain, ...] = ()  # one less at each age that has more than one
    alternatives: tuple[Alternative, ...] = ()  # () where batches are drawn
    risk: Risk | None = None  # None where too few measured batches can tell
    ready_by_h: float | None = None  # the plan's limit on when the curve must be there
    relies_on_records: bool = False  # nothing is to be cast; schedule and estimates are those of one trial batch
    without_ready_by: Programme | None = None  # what would be recommended without that limit
