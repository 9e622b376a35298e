"""The one frozen result that every renderer reads. Renderers decide nothing; whatever they say stands here.

Errors are relative (0.10 = 10 %), signed as predicted minus actual. Ages are hours since age zero.
The names of the fields are the keys of ``recommendation.json``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from planner.terms.arrays import AnyArray, FloatArray
from planner.terms.labels import target_label
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.mortar import MortarConstants
from planner.terms.plan.settings import CurveName, Weighting
from planner.terms.problems import Caution
from planner.terms.promise import Promise, PromiseArray
from planner.terms.results.after_casting.continuing import IfThen, TrialAnswer
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.age_slips import Slip
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.constants import CarefulConstant, Constants
from planner.terms.results.drawn_figures import Gain, TemperatureRow
from planner.terms.results.geometry.geometry_options import GeometryAnswer
from planner.terms.results.mix_errors import MixErrors
from planner.terms.results.programme_count import Estimate, ProgrammeCount, SiteChecks
from planner.terms.results.programme_figures import Spending
from planner.terms.results.sample_size import Basis, Enough
from planner.terms.results.waiting import Waiting
from planner.terms.schedule import Schedule

CheckedAgainst = Literal["site-cured", "standard-cured", "mixed", "drawn"]
EvidenceGrade = Literal["measured", "population", "published"]


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
    is_beaten: bool = False  # another is no worse in anything judged or spent, and better in something


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """What no placement of the same specimens can beat, in variance."""

    rms: float  # least standard deviation any placement of the budget's specimens could have
    schedule_rms: float  # that of the recommended schedule
    efficiency: float  # rms^2 / schedule_rms^2
    best_ages: tuple[tuple[float, float], ...]  # (age [h], share of the specimens) of the optimal placement
    curve: CurveName | None = None  # the smooth curve it is computed for


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeRole:
    """What one candidate age does for the recommendation."""

    age_h: float
    inclusion: float  # how often it is in the best schedule over resampled sets of batches
    rms_if_dropped: float | None  # recommended schedule without it; None if it is not in it or cannot go
    rms_if_added: float | None  # recommended schedule with it; None if it is in it or cannot come
    is_required: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """On what the answer rests."""

    grade: EvidenceGrade
    n_batches: int
    n_mixes: int
    n_breaks: int
    checked_against: CheckedAgainst
    checked_by_batch: tuple[tuple[str, str], ...]  # (batch, what it was checked against)
    scatter_by_age: tuple[tuple[float, float], ...]  # (age [h], within-test CV used)
    notes: tuple[str, ...]
    first_line: str = ""  # what must be said before anything else; "" where the breaks themselves judge
    more: tuple[Gain, ...] = ()  # what one more batch of breaks would do, the most useful first
    more_sentence: str = ""  # the same in words


@dataclass(frozen=True, slots=True, kw_only=True)
class ValidFor:
    """Where the answer may be used."""

    mix: str
    geometry: str
    property: str
    concrete_temperature_c: tuple[float, float] | None
    maturity_span_h: tuple[float, float]  # hours at the reference temperature, youngest to oldest break
    recalibrate_when: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchFacts:
    """What was searched, and how."""

    n_choices: int
    n_joint_choices: int
    n_fits: int
    n_at_bound: int
    n_unconverged: int
    n_second_looks: int
    n_draws: int
    seed: int
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChoiceTable:
    """Every schedule with its best curve, weighting and constants, best score first. Columns of equal length."""

    schedules: Sequence[Schedule]
    curve: tuple[CurveName, ...]
    weighting: tuple[Weighting, ...]
    maturity: tuple[MaturitySetting, ...]
    score: FloatArray
    rms: FloatArray
    bias: FloatArray
    mean_abs: FloatArray
    p95_abs: FloatArray
    within_tolerance: PromiseArray
    over_predicted_beyond_tolerance: PromiseArray
    cost: FloatArray  # NaN where no costs were given
    n_batches: AnyArray  # whole numbers
    n_visits: AnyArray  # visits to the testing machine, whole numbers
    is_resampled: AnyArray  # truths: basis is resampled, else closed form
    evidence: EvidenceGrade
    n_in_search: int  # more than the rows where only the best are kept


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthPoint:
    """One cell of the prior records, for pictures."""

    batch: str
    curing: str
    age_h: float
    maturity_h: float  # under the recommended maturity setting
    strength_mpa: float  # mean of the replicates
    n_specimens: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldOutPoint:
    """One held-out check: what the nested rule predicted and what the companions broke at."""

    batch: str
    target_age_h: float
    predicted_mpa: float
    actual_mpa: float
    condition: str  # what it was checked against
    trial_batch: str = ""  # whose curve read it, where that is another batch; "": its own


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontierPoint:
    """The best real schedule with so many specimens, and its error."""

    n_specimens: int
    schedule: Schedule
    rms: float  # apparent
    nested_rms: float | None
    cost: float | None
    curve: CurveName | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recommendation:
    """The answer."""

    version: str
    title: str
    inputs: Mapping[str, str]  # file -> "sha256:..."
    libraries: Mapping[str, str]
    evidence: Evidence
    valid_for: ValidFor
    target_ages_h: tuple[float, ...]
    target_weights: tuple[float, ...]
    tolerance: float
    assurance: float
    budget_specimens: int
    candidate_ages_h: tuple[float, ...]
    search: SearchFacts
    recommended: RatedChoice
    best: RatedChoice
    customary: RatedChoice | None
    equal_gain: RatedChoice | None
    compared: tuple[RatedChoice, ...]
    tied: tuple[RatedChoice, ...]  # cheapest first, capped for display; `n_tied` counts them all
    n_tied: int
    next_best: tuple[RatedChoice, ...]
    honest: Honest
    limit: Limit | None
    ages: tuple[AgeRole, ...]
    frontier: tuple[FrontierPoint, ...]
    reasons: tuple[str, ...]  # why this, why not the next, why not the customary
    cautions: tuple[Caution, ...]  # the gravest first
    standing_cautions: tuple[str, ...]  # on every output, always
    choices: ChoiceTable
    growth: tuple[GrowthPoint, ...]
    held_out: tuple[HeldOutPoint, ...]
    held_out_later: tuple[HeldOutPoint, ...] = ()  # recommended curve of every batch, read on every other of its mix
    n_leading_cautions: int = 0  # how many of them stand on a first screen
    currency: str = ""
    enough: RatedChoice | None = None  # fewest specimens that reach the assurance; None: no count does
    sufficiency: Enough | None = None  # the same in words and figures, and why where no count does
    spending: Spending | None = None  # programmes over trial batches and specimens; None where batches are drawn
    programme: ProgrammeCount | None = None  # the whole calibration around the recommended schedule
    checks: SiteChecks | None = None  # of later pours
    estimate: Estimate | None = None  # of the recommended schedule at its cheapest casting hour
    by_temperature: tuple[TemperatureRow, ...] = ()  # drawn errors of the recommended over the site's range
    slip: Slip | None = None  # how far each break may slip; None where the limit cannot be computed
    early_breaks: EarlyBreaks | None = None  # of later pours, where the plan foresees any
    target_waits_mpa: tuple[float | None, ...] = ()  # of each target: the strength waited for; (): all are ages
    waiting: Waiting | None = None  # when those strengths will be there
    constants: Constants | None = None  # how much they matter; None where the records do not tell them apart
    careful: CarefulConstant | None = None  # how it was chosen among those that tie; None without a range of the site
    mortar: MortarConstants | None = None  # what cubes of mortar say of them, where there are any
    if_then: IfThen | None = None  # what to do after the first break, laid down before casting
    geometries: GeometryAnswer | None = None  # which specimen to cast, where the plan lists several
    trial: TrialAnswer | None = None  # the trial batch after its first breaks, where they are given

    def target_label(self, age_h: float) -> str:
        """What the target at an age is called: the age, or the strength that is waited for."""
        waits = dict(zip(self.target_ages_h, self.target_waits_mpa, strict=False))
        return target_label(age_h, waits.get(age_h))
