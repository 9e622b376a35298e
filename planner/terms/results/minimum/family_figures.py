"""One rule for a family of mixes, as frozen values: what it costs each, and whether it holds for one it has not seen.

A rule is a schedule times a number of trial batches; every mix fits its own curve to it. Figures are those of fixed
programmes, held out batch by batch inside each mix.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.plan.settings import JudgedOn
from planner.terms.promise import Promise
from planner.terms.results.minimum.clause_terms import ClauseTerms
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True)
class FamilyRule:
    """Breaks that are the same for every mix."""

    schedule: Schedule  # of each trial batch
    n_trial_batches: int

    @property
    def n_specimens(self) -> int:
        """Of all trial batches together."""
        return self.schedule.n_specimens * self.n_trial_batches


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyRow:
    """One plan of the family: its own minimum, or why there is none."""

    plan: str
    exit: int  # as the program would have ended for this plan alone
    problem: str = ""
    mix: str = ""
    targets: str = ""
    tolerance: float | None = None
    assurance: float | None = None
    evidence: str = ""
    judged_on: JudgedOn | None = None
    is_kept: bool | None = None  # some allowed programme keeps the target; None: nothing judges it
    own: FamilyRule | None = None  # fewest breaks that keep it; where none does, what its plan recommends
    rms: float | None = None
    within_tolerance: Promise | None = None
    cost: float | None = None
    currency: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberUnderRule:
    """What one mix makes of the rule, beside its own minimum."""

    plan: str
    mix: str
    is_offered: bool  # its plan allows these breaks
    is_kept: bool
    rms: float | None
    own: FamilyRule | None  # its own fewest; None where it keeps the target with nothing
    own_rms: float | None
    specimens_more: int | None  # than its own fewest
    cost_more: float | None
    currency: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutMix:
    """The rule of all the others, held against the mix it has not seen."""

    plan: str
    mix: str
    rule: FamilyRule | None  # None: the others have none in common
    is_kept: bool | None
    rms: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeShare:
    """One age of the rule as a share of the earliest target's maturity, over the mixes."""

    age_h: float
    least: float
    most: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelope:
    """The fewest breaks that keep one target for every mix that can keep it at all."""

    target: str
    age_h: float | None  # None: all targets of the plans together
    rule: FamilyRule | None
    n_common: int  # rules that keep the target for all those mixes
    members: tuple[MemberUnderRule, ...]
    left_out: tuple[LeftOutMix, ...]
    shares: tuple[AgeShare, ...]
    worst_mix: str  # of those under the rule, the one read worst; "" without a rule
    worst_loss: float | None  # its error less that of its own minimum
    unkept: tuple[str, ...]  # mixes that keep the target with no allowed programme: the rule is not for them
    latest_set_h: float  # the latest final set among the mixes of the rule
    temperature_c: tuple[float, float] | None  # concrete temperatures that all of them hold records of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FamilyAnswer:
    """A folder of plans, one answer."""

    rows: tuple[FamilyRow, ...]
    together: Envelope | None
    no_envelope_because: str  # "" where there is one
    targets: tuple[Envelope, ...]  # of every target that two plans or more have
    clause: ClauseTerms | None  # of the rule; None without one
