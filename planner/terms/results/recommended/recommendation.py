"""The one frozen result that every renderer reads. Renderers decide nothing; whatever they say stands here.

Errors are relative (0.10 = 10 %), signed as predicted minus actual. Ages are hours since age zero.
The names of the fields are the keys of ``recommendation.json``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.terms.labels import target_label
from planner.terms.plan.mortar import MortarConstants
from planner.terms.problems import Caution
from planner.terms.results.after_casting.continuing import IfThen, TrialAnswer
from planner.terms.results.after_casting.early_answer import EarlyBreaks
from planner.terms.results.age_slips import Slip
from planner.terms.results.constants import CarefulConstant, Constants
from planner.terms.results.drawn_figures import TemperatureRow
from planner.terms.results.geometry.geometry_options import GeometryAnswer
from planner.terms.results.programme_count import Estimate, ProgrammeCount, SiteChecks
from planner.terms.results.programme_figures import Spending
from planner.terms.results.recommended.design_figures import AgeRole, Limit
from planner.terms.results.recommended.evidence_figures import Evidence, SearchFacts, ValidFor
from planner.terms.results.recommended.listed_choices import ChoiceTable
from planner.terms.results.recommended.plotted_points import FrontierPoint, GrowthPoint, HeldOutPoint
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.results.recommended.validation_figures import Honest
from planner.terms.results.sample_size import Enough
from planner.terms.results.waiting import Waiting


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
