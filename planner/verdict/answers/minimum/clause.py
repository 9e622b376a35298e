"""What a clause may demand, from what the records carry and from nothing else.

Demanded are the fewest breaks that keep the target with a break on both sides of every target. Where no programme
keeps it, the recommended one, and the clause says that it does not. Where nothing was broken that could judge, the
clause is interim and promises nothing. No clause stands on extrapolation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from planner.evidence import Cells
from planner.maturity import constant_maturity
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.geometry import is_cylinder
from planner.terms.plan.precision import C39, stated_precision
from planner.terms.plan.settings import Settings
from planner.terms.plan.tolerances import AgeTolerances, age_tolerances
from planner.terms.results.minimum.clause_terms import (
    ClauseAge,
    ClauseChecks,
    ClauseCurve,
    ClauseError,
    ClauseTerms,
    StandardAsks,
)
from planner.terms.results.minimum.minimum_figures import AtLeast, TargetMinimum
from planner.terms.results.programme_figures import Programme
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.answers.minimum.allowed_programmes import allowed_programmes
from planner.verdict.answers.minimum.spans import is_extrapolating, spans_of
from planner.verdict.answers.minimum.standard_counts import STANDARDS, at_least
from planner.verdict.selection.search import Search
from planner.verdict.wording.cautions.answer_cautions import FEWEST_SENSORS
from planner.verdict.wording.clause_reasons import EXTRAPOLATED, INTERIM_DRAWN, INTERIM_FEW, extrapolated_words

COLDEST_C, WARMEST_C = -10.0, 80.0
MOST_EXTRAPOLATED = 0.5  # share of the checks of a target outside the span, beyond which no clause is drafted
ROUNDING = 1e-9  # 10 % of 30 is 3, not 4


@dataclass(frozen=True, slots=True)
class Demanded:
    """What the clause demands of the laboratory."""

    schedule: Schedule
    n_trial_batches: int
    programme: Programme | None  # None in an interim clause
    standard: StandardAsks | None


def clause_terms(search: Search, advice: Recommendation, together: TargetMinimum) -> ClauseTerms:
    """Gather what a clause names; without ages, and with the reason, where none can be drafted."""
    settings = search.plan.settings
    limits = _limits(advice, settings)
    demanded = _demanded(search, advice, together, limits)
    if demanded is None:
        return _terms(search, advice, together, None, limits, refused=EXTRAPOLATED)
    if demanded.programme is None:
        return _terms(search, advice, together, demanded, limits)
    share = extrapolated_share(search.cells, demanded.schedule, demanded.programme.maturity)
    refused = extrapolated_words(share) if share > MOST_EXTRAPOLATED else ""
    return _terms(search, advice, together, None if refused else demanded, limits, refused=refused)


def clause_of(search: Search, advice: Recommendation, together: TargetMinimum, programme: Programme) -> ClauseTerms:
    """The same where the programme is given: one of those that keep the target for a family of mixes."""
    demanded = Demanded(programme.schedule, programme.n_trial_batches, programme, None)
    return _terms(search, advice, together, demanded, _limits(advice, search.plan.settings))


def _demanded(
    search: Search, advice: Recommendation, together: TargetMinimum, limits: AgeTolerances | None
) -> Demanded | None:
    """What is demanded; None where every programme that could be rests on extrapolation."""
    allowed = allowed_programmes(search)
    if allowed is None or together.nearest is None:
        return Demanded(advice.recommended.schedule, search.n_trial_batches, None, None)
    asked = together.at_least
    followed = None if asked is None or asked.programme is None else asked.programme
    is_spanning = allowed.is_spanning
    programme = followed or allowed.fewest_keeping(is_spanning)
    if programme is None and not together.leasts:
        is_extrapolated = is_extrapolating(search.cells, together.nearest)
        programme = allowed.fewest_allowed(is_spanning) if is_extrapolated else together.nearest
    if programme is None:
        return None
    standards = [asked] if asked is not None else [at_least(allowed, known.name, is_asked=False) for known in STANDARDS]
    asks = next((item for item in standards if _asks_more(item, programme, is_asked=asked is not None)), None)
    return Demanded(
        programme.schedule,
        programme.n_trial_batches,
        programme,
        None if asks is None else _standard(asks, limits, is_followed=asks.programme == programme),
    )


def _asks_more(item: AtLeast, programme: Programme, *, is_asked: bool) -> bool:
    schedule = programme.schedule
    return is_asked or schedule.n_specimens < item.fewest_specimens or schedule.n_ages < item.fewest_ages


def _standard(asks: AtLeast, limits: AgeTolerances | None, *, is_followed: bool) -> StandardAsks:
    programme = asks.programme
    return StandardAsks(
        standard=asks.standard,
        fewest_specimens=asks.fewest_specimens,
        fewest_ages=asks.fewest_ages,
        ages=() if programme is None else clause_ages(programme.schedule, limits),
        n_trial_batches=1 if programme is None else programme.n_trial_batches,
        is_followed=is_followed,
    )


def _terms(
    search: Search,
    advice: Recommendation,
    together: TargetMinimum,
    demanded: Demanded | None,
    limits: AgeTolerances | None,
    *,
    refused: str = "",
) -> ClauseTerms:
    settings, valid = search.plan.settings, advice.valid_for
    programme = None if demanded is None else demanded.programme
    is_interim = demanded is not None and programme is None
    multiples = None if programme is None else _multiples(search.cells, programme)
    curve = advice.recommended if programme is None else programme
    asked = settings.programme_asked
    return ClauseTerms(
        kind="refused" if refused else "interim" if is_interim else "draft",
        refused_because=refused,
        interim_because="" if not is_interim else INTERIM_DRAWN if search.basis.is_drawn else INTERIM_FEW,
        mixes=(valid.mix,) if valid.mix else (),
        strength_property=valid.property,
        geometry=valid.geometry,
        is_cylinder=is_cylinder(valid.geometry),
        standard_curing_c=settings.prior.standard_curing_c,
        age_zero=search.plan.records.age_zero,
        targets=tuple(advice.target_label(age) for age in advice.target_ages_h),
        strength_mpa=None if search.basis.is_drawn else together.strength_mpa,
        tolerance=advice.tolerance,
        assurance=advice.assurance,
        ages=() if demanded is None else clause_ages(demanded.schedule, limits, multiples),
        n_trial_batches=1 if demanded is None else demanded.n_trial_batches,
        deviations_after=limits.name if limits is not None else "",
        n_instrumented=max(asked.instrumented, FEWEST_SENSORS),
        n_spares=1 if demanded is None else max(1, ceil(asked.spares * demanded.schedule.n_specimens - ROUNDING)),
        curves=(ClauseCurve(mix=valid.mix, curve=curve.curve, weighting=curve.weighting, maturity=curve.maturity),),
        error=None if programme is None else _error(advice, programme, together),
        temperature_c=None if programme is None else temperature_range(advice, programme, search.cells),
        recorded_temperature_c=None if search.basis.is_drawn else valid.concrete_temperature_c,
        checks=_checks(advice, asked.companions_taken, is_interim=is_interim),
        recalibrate_when=valid.recalibrate_when,
        standard=None if demanded is None else demanded.standard,
        conversion=None if search.geometries is None else search.geometries.curve_conversion,
        grade=advice.evidence.grade,
        checked_against=advice.evidence.checked_against,
    )


def _limits(advice: Recommendation, settings: Settings) -> AgeTolerances | None:
    """The plan's limits; where it names none, those of the standard that the geometry belongs to, or none at all."""
    if settings.laboratory is not None:
        return age_tolerances(settings.laboratory.age_tolerances)
    stated = stated_precision(advice.valid_for.geometry)
    return age_tolerances(C39) if stated is not None and stated.source == C39 else None


def clause_ages(
    schedule: Schedule, limits: AgeTolerances | None, multiples: Sequence[float] | None = None
) -> tuple[ClauseAge, ...]:
    """Ages with their specimens, permitted deviations and shares of the target's maturity."""
    found = multiples or (None,) * schedule.n_ages
    return tuple(
        ClauseAge(
            age_h=age,
            n_specimens=count,
            permitted_deviation_h=None if limits is None else limits.deviation_h(age),
            multiple=multiple,
        )
        for age, count, multiple in zip(schedule.ages_h, schedule.specimens, found, strict=True)
    )


def _multiples(cells: Cells, programme: Programme) -> tuple[float, ...]:
    """Maturity at every age as a multiple of the earliest target's."""
    spans = spans_of(cells, cells.settings.index(programme.maturity))
    places = [int(np.argmin(np.abs(cells.ages_h - age))) for age in programme.schedule.ages_h]
    return tuple(float(spans.at_age_h[place] / spans.target_h[0]) for place in places)


def _error(advice: Recommendation, programme: Programme, together: TargetMinimum) -> ClauseError:
    later, honest = programme.next_batch, advice.honest
    is_own = together.judged_on == "own batch" or later is None
    judged = programme.own_batch_within_tolerance if later is None or is_own else later.within_tolerance
    is_recommended = advice.spending is not None and programme == advice.spending.recommended
    own_factor = None if later is None else later.safe_reading_factor
    factor = honest.safe_reading_factor if is_recommended or own_factor is None else own_factor
    return ClauseError(
        own_batch_rms=programme.own_batch_rms,
        own_batch_within_tolerance=programme.own_batch_within_tolerance,
        later_rms=None if later is None else later.rms,
        later_rms_upper_95=None if later is None else later.rms_upper_95,
        later_within_tolerance=None if later is None else later.within_tolerance,
        later_within_tolerance_lower_95=None if later is None else later.within_tolerance_lower_95,
        judged_on="own batch" if is_own else "later pour",
        is_kept=judged >= advice.assurance,
        is_later_kept=None if later is None else later.within_tolerance >= advice.assurance,
        safe_reading_factor=factor,
        no_factor_because="" if factor is not None else honest.safe_reading_unknown_because,
        n_batches=advice.evidence.n_batches,
        n_breaks=advice.evidence.n_breaks,
    )


def _checks(advice: Recommendation, companions: int, *, is_interim: bool) -> ClauseChecks:
    """The rules that the page and the sheet announce; none of their figures where nothing is promised."""
    checks = advice.checks
    if checks is None or is_interim:
        return ClauseChecks(companions_per_check=companions, check_sd=None, acceptance="", chance_of_alarm=())
    return ClauseChecks(
        companions_per_check=checks.companions_per_check,
        check_sd=checks.scatter,
        acceptance=checks.acceptance,
        chance_of_alarm=checks.chance_of_alarm,
    )


def extrapolated_share(cells: Cells, schedule: Schedule, maturity: MaturitySetting) -> float:
    """Largest share over the targets of checks whose maturity lies outside the span of the breaks."""
    setting = cells.settings.index(maturity)
    span = cells.views.maturity_h[setting][cells.checks.view][:, _ends(schedule, cells)]
    at = cells.checks.maturity_h[setting]
    is_outside = ~((at >= span[:, 0]) & (at <= span[:, 1]))
    shares = []
    for target in np.unique(cells.checks.target):
        own = cells.checks.target == target
        shares.append(float(np.average(is_outside[own], weights=cells.checks.weight[own])))
    return max(shares)


def temperature_range(advice: Recommendation, programme: Programme, cells: Cells) -> tuple[float, float] | None:
    """Mean concrete temperatures at which every target lies inside the span of the breaks and of the records.

    None where the records hold no site temperatures, or where the two do not overlap: nothing is shown then.
    """
    recorded = advice.valid_for.concrete_temperature_c
    if recorded is None or programme.maturity.method == "age":
        return None
    setting = cells.settings.index(programme.maturity)
    first_h, last_h = (
        float(np.nanmedian(cells.views.maturity_h[setting][:, place])) for place in _ends(programme.schedule, cells)
    )
    grid = np.arange(COLDEST_C, WARMEST_C + 0.05, 0.1)
    ends_h = np.array([min(cells.target_ages_h), max(cells.target_ages_h)])
    reached = np.array([constant_maturity(ends_h, float(t), programme.maturity) for t in grid])
    is_inside = (reached[:, 0] >= first_h) & (reached[:, 1] <= last_h)
    is_inside &= (grid >= recorded[0]) & (grid <= recorded[1])
    if not is_inside.any():
        return None
    return _degrees_inside(float(grid[is_inside][0]), float(grid[is_inside][-1]))


def _degrees_inside(coolest_c: float, warmest_c: float) -> tuple[float, float]:
    """A range in full degrees, rounded inward; in tenths where no two full degrees lie in it."""
    low, high = float(np.ceil(coolest_c)), float(np.floor(warmest_c))
    return (low, high) if low < high else (round(coolest_c, 1), round(warmest_c, 1))


def _ends(schedule: Schedule, cells: Cells) -> list[int]:
    return [int(np.argmin(np.abs(cells.ages_h - age))) for age in (schedule.ages_h[0], schedule.last_age_h)]
