"""A clause for a specification, drafted from what the records carry and from nothing else."""

from __future__ import annotations

import numpy as np

from planner.evidence import Cells
from planner.maturity import constant_maturity
from planner.terms.labels import age_label, at_least_label, percent
from planner.terms.plan.geometry import C39, stated_precision
from planner.terms.plan.settings import Settings
from planner.terms.plan.tolerances import AgeTolerances, age_tolerances
from planner.terms.results.answers import Clause, ClauseAge, Standing, TargetMinimum
from planner.terms.results.programme_count import SiteChecks
from planner.terms.results.recommendation import Recommendation

HEADING = "DRAFT FOR THE ENGINEER"
COLDEST_C, WARMEST_C = -10.0, 80.0
MOST_EXTRAPOLATED = 0.5  # share of the checks of a target outside the span, beyond which no clause is drafted
AGE_ZERO_WORDS = {
    "water added": "the time water meets cement",
    "moulded": "the end of moulding",
    "placed": "the time of placing",
    "": "the same moment as in the records behind this clause, which the engineer names",
}


def draft_clause(
    told: Recommendation,
    together: TargetMinimum,
    cells: Cells,
    settings: Settings,
    *,
    age_zero: str = "",
) -> Clause:
    """Draft a clause that asks for the fewest breaks that keep every target inside the tolerance.

    No clause stands on extrapolation, on drawn batches or on published growth: then the reason stands in its place.
    """
    refusal = _refusal(told, together, cells)
    if refusal or together.fewest is None:
        return Clause(heading=HEADING, ages=(), paragraphs=(), temperature_c=None, refused_because=refusal)
    schedule = together.fewest.schedule
    limits = _limits(told, settings)
    ages = tuple(
        ClauseAge(
            age_h=age, n_specimens=count, permitted_deviation_h=limits.deviation_h(age) if limits is not None else None
        )
        for age, count in zip(schedule.ages_h, schedule.specimens, strict=True)
    )
    temperature = temperature_range(told, together.fewest, cells)
    return Clause(
        heading=HEADING,
        ages=ages,
        paragraphs=_paragraphs(
            told, together, settings, ages, temperature, age_zero=age_zero, standard=limits.name if limits else ""
        ),
        temperature_c=temperature,
        refused_because="",
    )


def _limits(told: Recommendation, settings: Settings) -> AgeTolerances | None:
    """The plan's limits; where it names none, those of the standard that the geometry belongs to, or none at all."""
    if settings.laboratory is not None:
        return age_tolerances(settings.laboratory.age_tolerances)
    stated = stated_precision(told.valid_for.geometry)
    return age_tolerances(C39) if stated is not None and stated.source == C39 else None


def _refusal(told: Recommendation, together: TargetMinimum, cells: Cells) -> str:
    if told.evidence.grade == "published":
        return "the figures rest on published growth alone, which knows nothing of this mix. Break a trial batch."
    if told.evidence.grade == "population":
        return (
            "the figures rest on drawn batches, since too few were broken at these ages. Break a trial batch at the "
            "ages of the recommendation."
        )
    if together.unrestricted is None:
        return "with fewer than two batches no schedule can be judged. Break another trial batch."
    if together.fewest is None:
        return (
            "no schedule with a break on both sides of every target keeps the wanted share of batches within "
            "the tolerance. Widen the tolerance, lower the assurance or offer other ages."
        )
    share = extrapolated_share(cells, together.fewest)
    if share > MOST_EXTRAPOLATED:
        return (
            f"{percent(share, digits=0)} of the checks of a target lie outside the span of the breaks, so it would "
            "rest on extrapolation. Offer earlier (or later) candidate ages."
        )
    return ""


def extrapolated_share(cells: Cells, standing: Standing) -> float:
    """Largest share over the targets of checks whose maturity lies outside the span of the breaks."""
    setting = cells.settings.index(standing.maturity)
    ends = [int(np.argmin(np.abs(cells.ages_h - age))) for age in _ends(standing)]
    span = cells.views.maturity_h[setting][cells.checks.view][:, ends]
    at = cells.checks.maturity_h[setting]
    is_outside = ~((at >= span[:, 0]) & (at <= span[:, 1]))
    shares = []
    for target in np.unique(cells.checks.target):
        own = cells.checks.target == target
        shares.append(float(np.average(is_outside[own], weights=cells.checks.weight[own])))
    return max(shares)


def temperature_range(told: Recommendation, standing: Standing, cells: Cells) -> tuple[float, float] | None:
    """Mean concrete temperatures at which every target lies inside the span of the breaks and of the records.

    None where the records hold no site temperatures, or where the two do not overlap: nothing is shown then.
    """
    recorded = told.valid_for.concrete_temperature_c
    if recorded is None or standing.maturity.method == "age":
        return None
    setting = cells.settings.index(standing.maturity)
    first_h, last_h = (
        float(np.nanmedian(cells.views.maturity_h[setting][:, int(np.argmin(np.abs(cells.ages_h - age)))]))
        for age in _ends(standing)
    )
    grid = np.arange(COLDEST_C, WARMEST_C + 0.05, 0.1)
    ends_h = np.array([min(cells.target_ages_h), max(cells.target_ages_h)])
    reached = np.array([constant_maturity(ends_h, float(t), standing.maturity) for t in grid])
    is_inside = (reached[:, 0] >= first_h) & (reached[:, 1] <= last_h)
    is_inside &= (grid >= recorded[0]) & (grid <= recorded[1])
    if not is_inside.any():
        return None
    return float(np.ceil(grid[is_inside][0])), float(np.floor(grid[is_inside][-1]))


def _ends(standing: Standing) -> tuple[float, float]:
    return standing.schedule.ages_h[0], standing.schedule.last_age_h


def _paragraphs(
    told: Recommendation,
    together: TargetMinimum,
    settings: Settings,
    ages: tuple[ClauseAge, ...],
    temperature: tuple[float, float] | None,
    *,
    age_zero: str,
    standard: str,
) -> tuple[tuple[str, str], ...]:
    valid, fewest = told.valid_for, together.fewest
    assert fewest is not None
    targets = ", ".join(told.target_label(age) for age in told.target_ages_h)
    low, mean, high = together.strength_mpa
    curing = "standard curing" + (
        f" at {settings.prior.standard_curing_c:g} C" if settings.prior.standard_curing_c is not None else ""
    )
    listed = "; ".join(_age_words(age) for age in ages)
    later = (
        "How later pours differ is not known from these records."
        if fewest.later_rms is None
        else f"On later pours the error was {percent(fewest.later_rms)} RMS, which no choice of ages mends: the "
        "site checks do."
    )
    deviations = f"Deviations after {standard}." if standard else "The engineer states the permitted deviations."
    instrumented = (settings.programme.instrumented if settings.programme else 0) or 2
    held_lower = at_least_label(fewest.within_tolerance_lower_95)
    return (
        (
            "Scope",
            f"Strength-maturity calibration of {valid.mix or 'the mix named in the contract'}, "
            f"{valid.property} strength on {valid.geometry or 'specimens of one geometry'}, {curing}; for reading "
            f"the strength at {targets}.",
        ),
        (
            "Age zero",
            f"Ages count from {AGE_ZERO_WORDS[age_zero]}, noted for every batch; temperature is recorded from placing.",
        ),
        (
            "Strength level",
            f"The records behind this clause read {low:.0f} to {high:.0f} MPa (mean {mean:.0f} MPa) at the "
            "target ages.",
        ),
        (
            "Breaks",
            f"At least {sum(age.n_specimens for age in ages)} specimens of one batch, broken at: {listed}. "
            f"{deviations} A further break where two replicates differ by more than 10 % of "
            f"their mean. {instrumented} further specimens carry temperature sensors and are not broken.",
        ),
        (
            "Accuracy shown",
            f"On {together.n_batches} batches, each left out in turn, such a schedule was read {percent(fewest.rms)} "
            f"off (RMS) on its own batch and kept {percent(fewest.within_tolerance, digits=0)} of batches within "
            f"{percent(told.tolerance, digits=0)}{held_lower}. {later}",
        ),
        ("Temperature", _temperature_words(temperature, told.valid_for.concrete_temperature_c)),
        ("Acceptance of the calibration", _acceptance_words(told.checks)),
        ("Site checks", _checks_words(told.checks)),
        (
            "Calibrate anew",
            "When cement, addition, admixture or water-binder ratio changes, when aggregate source or plant "
            "changes, when concrete temperatures leave the stated range, or when the lasting rule of the site checks "
            "withdraws the curve.",
        ),
        (
            "Evidence",
            f"Grade: {told.evidence.grade}; {told.evidence.n_breaks} breaks of {told.evidence.n_batches} batches, "
            f"checked against {told.evidence.checked_against} strength.",
        ),
        (
            "Precedence",
            "Local standards, the project specification and the responsible engineer prevail over this draft.",
        ),
    )


def _age_words(age: ClauseAge) -> str:
    words = f"{age_label(age.age_h)}, {age.n_specimens} specimens"
    if age.permitted_deviation_h is None:
        return words
    deviation = age.permitted_deviation_h
    return f"{words} (+-{deviation:g} h)" if deviation >= 1.0 else f"{words} (+-{60 * deviation:.0f} min)"


def _temperature_words(temperature: tuple[float, float] | None, recorded: tuple[float, float] | None) -> str:
    if temperature is None:
        return "No range of concrete temperature is shown by the records; the engineer states one."
    wider = "" if recorded is None else f" (the records reach from {recorded[0]:.1f} to {recorded[1]:.1f} C)"
    return (
        f"Valid for mean concrete temperatures of {temperature[0]:g} to {temperature[1]:g} C up to the reading: "
        f"there the targets lie between the first and the last break, and such temperatures are in the records{wider}."
    )


def _acceptance_words(checks: SiteChecks | None) -> str:
    if checks is None:
        return "By site-cured companions of the trial batch; the records do not say how far off they may be."
    return (
        f"{checks.companions_per_check} site-cured companions of the trial batch at every target. {checks.acceptance}"
    )


def _checks_words(checks: SiteChecks | None) -> str:
    if checks is None:
        return "Companions beside the pours; the records do not say how many show a departure."
    return f"{checks.companions_per_check} site-cured companions at a target age beside a pour. {checks.rule}"
