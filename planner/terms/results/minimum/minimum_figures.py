"""The least that has to be broken, as frozen values. Every figure is that of a fixed programme, held out.

Errors are relative (0.10 = 10 %). A programme keeps the target where its share of judged batches inside the tolerance
reaches the assurance; the figure does not depend on what else was offered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.plan.settings import JudgedOn
from planner.terms.results.minimum.clause_terms import ClauseTerms
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.recommendation import Recommendation

LeastOf = Literal["breaks", "ages", "latest first break", "earliest last break"]
Need = Literal["demanded", "must be there", "may be there", "does not help"]
Property = Literal["first break", "last break", "nearest break"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Least:
    """One programme that keeps the target and has the least of something; of such the one with the fewest breaks."""

    of: LeastOf
    programme: Programme
    is_extrapolating: bool  # some target lies outside the span of the breaks


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeNeed:
    """Whether one candidate age has to be there, over all allowed programmes, whatever their specimens."""

    age_h: float
    multiple: float  # of the target's maturity, both in hours at the reference temperature
    need: Need
    rms_with: float | None  # lowest judged error of an allowed programme with it; None where none holds it
    rms_without: float | None  # and without it
    n_keeping_with: int  # allowed programmes with it that keep the target
    n_keeping_without: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PropertyRule:
    """What every allowed programme that keeps the target has, where no single age has to be there."""

    of: Property
    age_h: float  # standard-cured; the latest first break, the earliest last, the break furthest from the target
    multiple: float  # of the target's maturity; of a nearest break the larger of ratio and inverse ratio
    n_keeping: int  # programmes that keep the target: all of them have it
    n_having: int  # allowed programmes that have it
    n_allowed: int
    n_held_out: int  # batches it was learnt without and checked on
    n_held_out_right: int  # of those, where programmes that have it were read closer than the others


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstraintPrice:
    """What one constraint costs."""

    name: str
    rms: float | None  # lowest judged error under it; None: no programme obeys it
    rms_more: float | None  # than without it; never below 0
    fewest_specimens: int | None  # that keep the target under it
    specimens_more: int | None  # than the fewest without it; never below 0
    cost_more: float | None  # of the cheapest that keep the target; never below 0


@dataclass(frozen=True, slots=True, kw_only=True)
class AtLeast:
    """The least programme that also has the specimens and ages a standard asks for."""

    standard: str
    fewest_specimens: int  # of each trial batch
    fewest_ages: int
    programme: Programme | None  # None: the plan allows no such programme
    is_asked: bool  # on the command line; else it stands beside


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetMinimumFigures:
    """What one target age asks for; all targets together where `age_h` is None."""

    age_h: float | None
    maturity_h: float  # typical maturity at the check, hours at the reference temperature
    maturity_span_h: tuple[float, float]  # coolest to warmest check
    strength_mpa: tuple[float, float, float]  # lowest, mean, highest truth in the records
    n_batches: int
    n_programmes: int  # allowed: schedules times numbers of trial batches
    n_keeping: int  # of those
    judged_on: JudgedOn | None  # None: nothing can judge a fixed programme here
    unjudged_because: str  # "" where programmes are judged
    leasts: tuple[Least, ...]  # on the judged error; none where no programme keeps the target
    own_batch: tuple[Least, ...]  # on the own batch alone, where later pours decide and none keeps the target
    nearest: Programme | None  # what the rule takes: the answer where none keeps the target
    customary: Programme | None  # the customary ages, whatever the plan allows
    ages: tuple[AgeNeed, ...]
    rules: tuple[PropertyRule, ...]
    constraints: tuple[ConstraintPrice, ...]
    at_least: AtLeast | None

    @property
    def fewest(self) -> Programme | None:
        """Fewest breaks that keep the target."""
        return self.least("breaks")

    def least(self, of: LeastOf) -> Programme | None:
        """The programme with the least of something; None where none keeps the target."""
        return next((item.programme for item in self.leasts if item.of == of), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetMinimum(TargetMinimumFigures):
    """The same with its sentence."""

    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MinimumAnswer:
    """The least that has to be broken, target by target, and what a clause may ask for."""

    recommendation: Recommendation  # of the plan as it stands, with its cautions
    together: TargetMinimum  # all targets at once
    targets: tuple[TargetMinimum, ...]
    clause: ClauseTerms
