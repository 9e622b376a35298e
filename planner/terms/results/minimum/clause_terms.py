"""What a clause of a specification says, as values: the sentences are written by the report, in its units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, JudgedOn, Weighting
from planner.terms.promise import Promise
from planner.terms.results.after_casting.curve_conversion import CurveConversion

ClauseKind = Literal["draft", "interim", "refused"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseAge:
    """One required age."""

    age_h: float
    n_specimens: int  # of each trial batch
    permitted_deviation_h: float | None
    multiple: float | None = None  # of the earliest target's maturity; None where it is not known


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseCurve:
    """How the curve of one mix is fitted and read."""

    mix: str
    curve: CurveName
    weighting: Weighting
    maturity: MaturitySetting


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseError:
    """How far off the demanded programme reads: fixed, held out."""

    own_batch_rms: float
    own_batch_within_tolerance: Promise
    later_rms: float | None  # None where the records do not tell
    later_rms_upper_95: float | None
    later_within_tolerance: Promise | None
    later_within_tolerance_lower_95: Promise | None
    judged_on: JudgedOn
    is_kept: bool  # the judged share reaches the assurance
    is_later_kept: bool | None  # that of later pours does; None where the records do not tell
    safe_reading_factor: Promise | None
    no_factor_because: str  # "" where there is one
    n_batches: int
    n_breaks: int
    worst_mix: str = ""  # of a family: the mix that these figures are of


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseChecks:
    """Companions beside the trial batch and the pours, and the figures of their rules."""

    companions_per_check: int
    check_sd: float | None  # relative; None: the later pour's error is not known
    acceptance: str  # of the calibration, in the words of every output; "" where nothing is known of its error
    chance_of_alarm: tuple[tuple[int, float], ...]  # (checks, chance that a sound curve is withdrawn within them)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardAsks:
    """A standard that asks for more than the demanded programme."""

    standard: str
    fewest_specimens: int
    fewest_ages: int
    ages: tuple[ClauseAge, ...]  # the least programme of the plan that satisfies both; () where there is none
    n_trial_batches: int
    is_followed: bool  # the clause demands that programme


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseTerms:
    """Everything a clause names. Without ages where none can be drafted."""

    kind: ClauseKind
    refused_because: str  # of a refused clause
    interim_because: str  # of an interim one
    mixes: tuple[str, ...]
    strength_property: str
    geometry: str
    is_cylinder: bool
    standard_curing_c: float | None
    age_zero: str  # as the records have it; "" where they do not say
    targets: tuple[str, ...]  # by the names they have on every output
    strength_mpa: tuple[float, float, float] | None  # lowest, mean, highest in the records at the targets
    tolerance: float
    assurance: float
    ages: tuple[ClauseAge, ...]
    n_trial_batches: int
    deviations_after: str  # the standard of the permitted deviations, "" where there is none
    n_instrumented: int  # of each trial batch
    n_spares: int  # of each trial batch
    curves: tuple[ClauseCurve, ...]
    error: ClauseError | None  # None in an interim clause
    temperature_c: tuple[float, float] | None  # mean concrete temperature up to the reading
    recorded_temperature_c: tuple[float, float] | None  # of the records: where the range comes from
    checks: ClauseChecks
    recalibrate_when: tuple[str, ...]
    standard: StandardAsks | None
    grade: str
    checked_against: str
    conversion: CurveConversion | None = None  # from the geometry cast to the one specified; None: the same
