"""A joint choice with its error figures.

Errors are relative (0.10 = 10 %), signed as predicted minus actual.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, Weighting
from planner.terms.promise import Promise
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.programme_figures import Programme
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchError:
    """The signed error of one batch."""

    batch: str
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorFigures:
    """How far off one choice is on the prior batches, own batch (apparent, not corrected for the search)."""

    rms: float  # against true strength, floored at what the specimens' scatter alone would give
    rms_measured: float  # against the measured mean of the companions, their scatter kept in
    bias: float  # mean signed error
    mean_abs: float
    p95_abs: float
    within_tolerance: Promise  # share of batches with every target inside
    over_predicted_any: Promise
    over_predicted_beyond_tolerance: Promise
    worst_batch: BatchError
    worst_over_prediction: BatchError | None  # None: no batch over-predicted
    monte_carlo_se: float  # of rms; 0 where it is closed form
    is_below_resolution: bool  # the floor acts: smaller than these records can resolve


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetFigures:
    """The same for one target age."""

    age_h: float
    figures: ErrorFigures


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedChoice:
    """A joint choice (schedule, curve, weighting, maturity) with its figures."""

    label: ChoiceRole
    schedule: Schedule
    curve: CurveName
    weighting: Weighting
    maturity: MaturitySetting
    n_batches: int  # batches (or mixes) it could be scored on
    score: float  # mean over batches of e^2 + 2 v, in units of the tolerance squared where targets differ
    error: ErrorFigures
    per_target: tuple[TargetFigures, ...]
    cost: float | None = None
    n_visits: int = 0  # visits to the testing machine
    efficiency: float | None = None  # share of the least possible variance, see `Limit`
    schedule_rms: float = 0.0  # what the scatter of its own specimens contributes
    is_extrapolating: bool = False  # reads the curve outside the span of its ages in at least one batch
    basis: Literal["resampled", "closed form"] = "resampled"
    note: str = ""  # why it stands here or why a better curve for it could not be had
    programme: Programme | None = None  # as a whole calibration; of the schedule asked about, where judged
    is_beaten: bool = False  # another is no worse in anything judged or spent, and better in something
