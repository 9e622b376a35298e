"""What holds on a batch that is not in the records.

Errors are relative (0.10 = 10 %), signed as predicted minus actual.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, Weighting
from planner.terms.promise import Promise
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.mix_errors import MixErrors
from planner.terms.results.sample_size import Basis
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnBatchVerdict:
    """A new batch calibrated by this rule and read on its own concrete."""

    apparent_rms: float
    nested_rms: float  # the whole rule repeated without the batch it is judged on
    bootstrap_rms: float | None  # the same over every resampling of the batches, exact up to ten
    bootstrap_terms: int  # weight vectors used; 0 where there were too few batches
    is_bootstrap_exact: bool
    rms_upper_95: float | None  # upper 95 % bound; None with fewer than three batches
    rms_measured: float
    nested_p80_abs: float
    within_tolerance: Promise
    within_tolerance_lower_95: Promise | None  # parametric
    within_tolerance_lower_95_free: Promise | None  # free of distribution: only where no batch missed
    over_predicted_any: Promise
    over_predicted_beyond_tolerance: Promise
    is_below_resolution: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NextBatchVerdict:
    """The curve of one trial batch read on a later pour of the same mix."""

    rms: float
    rms_upper_95: float | None
    within_tolerance: Promise
    within_tolerance_lower_95: Promise | None
    over_predicted_any: Promise
    over_predicted_beyond_tolerance: Promise
    between_batch_cv: float  # spread between batches with the specimens' scatter taken out
    rms_by_trial_batches: tuple[float, ...]  # calibrating on the mean of 1, 2, 3 trial batches
    basis: Literal["pairs of batches", "stated between-batch CV", "population"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldPick:
    """What the rule took when one batch was held out, and how that did on the held-out batch."""

    held_out: str
    schedule: Schedule
    curve: CurveName
    weighting: Weighting
    maturity: MaturitySetting
    error: float  # signed, own batch, the target that was worst


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetVerdict:
    """Nested own-batch figures for one target."""

    age_h: float
    nested_rms: float
    rms_upper_95: float | None
    within_tolerance: Promise
    over_predicted_beyond_tolerance: Promise
    next_batch_rms: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Nested paired difference between the recommendation and a schedule named beforehand."""

    label: ChoiceRole
    schedule: Schedule
    rms_difference: float  # nested rms of the recommendation minus that of the rival, relative units
    sign_flip_p: float
    sign_flip_floor: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Honest:
    """What holds on a batch that is not in the records."""

    own_batch: OwnBatchVerdict | None  # None with one batch: nothing can be held out
    next_batch: NextBatchVerdict | None
    next_batch_unknown_because: str  # "" where next_batch is known
    best_nested_rms: float | None  # of always taking the lowest score instead of the cheapest tied choice
    safe_reading_factor: Promise | None  # wait until the curve reads factor x the strength relied on
    safe_reading_basis: Basis | None  # errors that the factor is estimated from; None: there is none
    safe_reading_unknown_because: str  # "" where there is one
    per_target: tuple[TargetVerdict, ...]
    folds: tuple[FoldPick, ...]
    rivals: tuple[Rival, ...]
    sentence: str  # the headline
    mixes: MixErrors | None = None  # where whole mixes are left out
