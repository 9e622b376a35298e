"""A whole calibration as one choice: a schedule with its curve, times a number of trial batches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, JudgedOn, Weighting
from planner.terms.promise import Promise
from planner.terms.schedule import Schedule

Reading = Literal["mean curve", "rescaled", "records", "records and trial"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterPourFigures:
    """How a fixed programme reads later pours of the records: held out, not corrected for choosing among many."""

    rms: float
    rms_se: float | None  # standard error by leaving out whole batches; None where it was not worked out
    rms_upper_95: float | None  # None with fewer than three batches, or where it was not worked out
    within_tolerance: Promise  # share of pours with every target inside
    within_tolerance_lower_95: Promise | None
    over_predicted_beyond_tolerance: Promise
    worst_batch_rms: float
    safe_reading_factor: Promise | None
    is_extrapolated: bool  # more trial batches than a pour has others in the records


@dataclass(frozen=True, slots=True, kw_only=True)
class Beating:
    """A programme that is no worse than another in anything judged or spent, and better in something."""

    n_trial_batches: int
    schedule: Schedule
    rms: float  # where programmes are judged
    within_tolerance: Promise  # share of judged batches with every target inside
    is_enough: bool
    score_times: float  # its own-batch score, which ranks ages and curves, over that of what it beats


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """One programme with what it asks for and what it is worth."""

    n_trial_batches: int
    schedule: Schedule  # of each trial batch
    curve: CurveName
    weighting: Weighting
    maturity: MaturitySetting
    own_batch_rms: float  # of each trial batch's curve on its own concrete
    own_batch_within_tolerance: Promise
    next_batch: LaterPourFigures | None  # None where the records do not tell
    cost: float | None  # of all trial batches together
    n_visits: int  # of all trial batches together
    is_tied: bool  # with the best within the limits
    is_enough: bool  # the share of judged batches inside reaches the assurance
    is_within_limits: bool  # of the plan: trial batches, specimens, money
    geometry: str = ""
    reading: Reading = "mean curve"
    beaten_by: Beating | None = None  # None: nothing within the limits beats it

    @property
    def n_specimens(self) -> int:
        """Of all trial batches together."""
        return self.schedule.n_specimens * self.n_trial_batches

    @property
    def headline_rms(self) -> float:
        """The error that a site meets where the records tell it, else that on the trial batch itself."""
        return self.own_batch_rms if self.next_batch is None else self.next_batch.rms


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendingFigures:
    """How the money is best spent over trial batches, specimens and ages, and what more or less would do."""

    judged_on: JudgedOn
    judged_because: str  # "" where nothing stands in the way of what was asked for
    immaterial: float
    is_enough: bool  # some programme within the limits reaches the assurance
    recommended: Programme
    best: Programme  # lowest judged error of the ladder within the limits
    lowest: Programme | None  # of all schedules within the limits, ranked or not; None where no lower than `best`
    programmes: tuple[Programme, ...]  # the frontier, and everything named on a screen; cheapest first
    n_tied: int
    score: float  # own-batch loss of the recommended, what ranks ages and curve
    score_from_other_schedules: float  # part of it: what other schedules and companions say of its curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Spending(SpendingFigures):
    """The same with its sentences."""

    sentences: tuple[str, ...]  # the answer, then what fewer specimens, one trial batch more would do
    helps: tuple[str, ...]  # what would help most for the next unit of money, or specimen: for a first screen
