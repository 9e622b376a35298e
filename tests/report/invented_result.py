"""A plausible recommendation made by hand, for every renderer test. All names and figures are invented."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np

from planner.terms.maturity import MaturitySetting
from planner.terms.problems import Caution
from planner.terms.results.age_slips import BreakSlip, Slip, SlipEnd
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.design_figures import AgeRole, Limit
from planner.terms.results.recommended.evidence_figures import Evidence, SearchFacts, ValidFor
from planner.terms.results.recommended.listed_choices import ChoiceTable
from planner.terms.results.recommended.plotted_points import FrontierPoint, GrowthPoint, HeldOutPoint
from planner.terms.results.recommended.rated_choice import BatchError, ErrorFigures, RatedChoice, TargetFigures
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.recommended.validation_figures import (
    FoldPick,
    Honest,
    NextBatchVerdict,
    OwnBatchVerdict,
    Rival,
    TargetVerdict,
)
from planner.terms.schedule import Schedule

BATCHES = ("B1", "B2", "B3", "B4", "B5", "B6")
CANDIDATES_H = (4.0, 6.0, 8.0, 12.0, 24.0, 48.0, 72.0, 168.0, 672.0)
TARGETS_H = (6.0, 24.0)
EQUIVALENT_AGE = MaturitySetting("equivalent age", 5000.0, 20.0)
HOSTILE_NAMES = (
    "<script>alert(1)</script>",
    "[red]warm[/red] [/] [link=file:///etc]",
    "\"quoted\" 'single' & `tick`",
    "\u05d0\u05e6\u05d5\u05d5\u05d4 \u202ereversed",
    "\U0001f3d7\ufe0f batch \U0001f9ea",
    "long " * 60,
    "=HYPERLINK(1)",
    "tab\tand\x1b[31mescape\r\nline",
)


def invented_figures(rms: float, *, batch: str = "B4", over: float = 0.0) -> ErrorFigures:
    """Figures that hang together: everything scales with the rms."""
    return ErrorFigures(
        rms=rms,
        rms_measured=rms + 0.008,
        bias=-0.1 * rms,
        mean_abs=0.8 * rms,
        p95_abs=1.9 * rms,
        within_tolerance=1.0 - over,
        over_predicted_any=0.45,
        over_predicted_beyond_tolerance=over,
        worst_batch=BatchError(batch=batch, error=2.1 * rms),
        worst_over_prediction=BatchError(batch=batch, error=2.1 * rms),
        monte_carlo_se=0.0003,
        is_below_resolution=False,
    )


def invented_choice(
    label: ChoiceRole, ages_h: tuple[float, ...], specimens: tuple[int, ...], rms: float, *, batch: str = "B4"
) -> RatedChoice:
    """One rated choice with figures for both targets."""
    figures = invented_figures(rms, batch=batch)
    return RatedChoice(
        label=label,
        schedule=Schedule(ages_h, specimens),
        curve="exponential",
        weighting="relative",
        maturity=EQUIVALENT_AGE,
        n_batches=len(BATCHES),
        score=rms**2,
        error=figures,
        per_target=tuple(TargetFigures(age_h=age, figures=figures) for age in TARGETS_H),
        cost=400.0 + 55.0 * sum(specimens),
        n_visits=len(ages_h),
        efficiency=0.9,
        schedule_rms=0.7 * rms,
    )


def invented_table() -> ChoiceTable:
    """A few hundred schedules of three to six ages, two or three specimens each, best score first."""
    schedules = [
        Schedule(ages, (count,) * size)
        for size in (3, 4, 5, 6)
        for ages in combinations(CANDIDATES_H, size)
        for count in (2, 3)
        if size * count <= 18
    ]
    random = np.random.default_rng(5)
    rms = np.sort(0.03 + 0.2 * random.random(len(schedules)) ** 2)
    cost = np.array([400.0 + 55.0 * schedule.n_specimens for schedule in schedules])
    cost[3] = np.nan
    n_rows = len(schedules)
    return ChoiceTable(
        schedules=tuple(schedules),
        curve=("exponential",) * n_rows,
        weighting=("relative",) * n_rows,
        maturity=(EQUIVALENT_AGE,) * n_rows,
        score=rms**2,
        rms=rms,
        bias=-0.1 * rms,
        mean_abs=0.8 * rms,
        p95_abs=1.9 * rms,
        within_tolerance=np.clip(1.2 - 2.0 * rms, 0.0, 1.0),
        over_predicted_beyond_tolerance=np.clip(rms - 0.05, 0.0, 1.0),
        cost=cost,
        n_batches=np.full(n_rows, len(BATCHES)),
        n_visits=np.array([max(1, schedule.n_ages - 1) for schedule in schedules]),
        is_resampled=np.arange(n_rows) < 200,
        evidence="measured",
        n_in_search=n_rows,
    )


def invented_growth(batches: tuple[str, ...]) -> tuple[GrowthPoint, ...]:
    """Exponential growth to about 60 MPa, each batch a little stronger than the one before."""
    return tuple(
        GrowthPoint(
            batch=batch,
            curing=curing,
            age_h=age,
            maturity_h=age * (1.0 if curing == "standard" else 0.8),
            strength_mpa=(58.0 + place) * float(np.exp(-((14.0 / age) ** 0.7))),
            n_specimens=3,
        )
        for place, batch in enumerate(batches)
        for curing, ages in (("standard", CANDIDATES_H), ("site", TARGETS_H))
        for age in ages
    )


def _honest(batches: tuple[str, ...], folds_schedule: Schedule) -> Honest:
    own = OwnBatchVerdict(
        apparent_rms=0.031,
        nested_rms=0.042,
        bootstrap_rms=0.044,
        bootstrap_terms=400,
        is_bootstrap_exact=True,
        rms_upper_95=0.081,
        rms_measured=0.049,
        nested_p80_abs=0.055,
        within_tolerance=0.96,
        within_tolerance_lower_95=0.71,
        within_tolerance_lower_95_free=0.607,
        over_predicted_any=0.5,
        over_predicted_beyond_tolerance=0.02,
        is_below_resolution=False,
    )
    later = NextBatchVerdict(
        rms=0.094,
        rms_upper_95=0.18,
        within_tolerance=0.71,
        within_tolerance_lower_95=0.44,
        over_predicted_any=0.52,
        over_predicted_beyond_tolerance=0.14,
        between_batch_cv=0.06,
        rms_by_trial_batches=(0.094, 0.082, 0.078),
        basis="pairs of batches",
    )
    return Honest(
        own_batch=own,
        next_batch=later,
        next_batch_unknown_because="",
        best_nested_rms=0.039,
        safe_reading_factor=1.22,
        safe_reading_basis="next batch",
        safe_reading_unknown_because="",
        per_target=tuple(
            TargetVerdict(
                age_h=age,
                nested_rms=0.042,
                rms_upper_95=0.081,
                within_tolerance=0.96,
                over_predicted_beyond_tolerance=0.02,
                next_batch_rms=0.094,
            )
            for age in TARGETS_H
        ),
        folds=tuple(
            FoldPick(
                held_out=batch,
                schedule=folds_schedule,
                curve="exponential",
                weighting="relative",
                maturity=EQUIVALENT_AGE,
                error=0.01 * place - 0.02,
            )
            for place, batch in enumerate(batches)
        ),
        rivals=(
            Rival(
                label=ChoiceRole.CUSTOMARY,
                schedule=Schedule((24.0, 72.0, 168.0, 336.0, 672.0), (3, 3, 3, 3, 3)),
                rms_difference=-0.051,
                sign_flip_p=0.03125,
                sign_flip_floor=0.03125,
                sentence="On held-out batches it errs 5.1 percentage points less than customary.",
            ),
        ),
        sentence=(
            "On a batch that is not in the records, read on its own concrete, expect 4.2 % (RMS), "
            "at most 8.1 % with 95 % confidence; on a later pour of the mix, 9.4 %."
        ),
    )


def invented_slip() -> Slip:
    """Slips of the four breaks, ended in every way there is."""
    breaks: tuple[tuple[float, float, SlipEnd, float, SlipEnd, float | None], ...] = (
        (6.0, 0.0, "records", 0.789, "precision", 0.12),
        (12.0, 6.0, "neighbour", 4.25, "precision", 0.25),
        (24.0, 2.0, "precision", 648.0, "neighbour", 0.5),
        (672.0, 130.7, "precision", 0.0, "records", None),
    )
    return Slip(
        kept=0.95,
        standard="ASTM C39",
        breaks=tuple(
            BreakSlip(
                age_h=age_h,
                earlier_h=earlier_h,
                later_h=later_h,
                earlier_ends=earlier_ends,
                later_ends=later_ends,
                permitted_h=permitted_h,
            )
            for age_h, earlier_h, earlier_ends, later_h, later_ends, permitted_h in breaks
        ),
    )


def invented_recommendation(*, batches: tuple[str, ...] = BATCHES, title: str = "Overnight panels") -> Recommendation:
    """Everything filled in; tests replace what they need otherwise."""
    recommended = invented_choice(
        ChoiceRole.RECOMMENDED, (6.0, 12.0, 24.0, 672.0), (3, 3, 3, 2), 0.031, batch=batches[3]
    )
    best = invented_choice(ChoiceRole.BEST, (6.0, 8.0, 12.0, 24.0, 672.0), (3, 3, 3, 3, 2), 0.029, batch=batches[3])
    return Recommendation(
        version="0.1.0",
        title=title,
        inputs={"breaks.csv": "sha256:" + "ab" * 32},
        libraries={"numpy": "2.4.6"},
        evidence=Evidence(
            grade="measured",
            n_batches=len(batches),
            n_mixes=1,
            n_breaks=198,
            checked_against="site-cured",
            checked_by_batch=tuple((batch, "site-cured companions") for batch in batches),
            scatter_by_age=((6.0, 0.055), (24.0, 0.04), (672.0, 0.03)),
            notes=("One geometry: cylinder 100x200 mm.",),
        ),
        valid_for=ValidFor(
            mix="panel mix",
            geometry="cylinder 100x200 mm",
            property="compressive",
            concrete_temperature_c=(12.0, 35.0),
            maturity_span_h=(3.1, 690.0),
            recalibrate_when=("the cement or the admixture changes",),
        ),
        target_ages_h=TARGETS_H,
        target_weights=(0.5, 0.5),
        tolerance=0.10,
        assurance=0.90,
        budget_specimens=18,
        candidate_ages_h=CANDIDATES_H,
        search=SearchFacts(
            n_choices=4095,
            n_joint_choices=98280,
            n_fits=12000,
            n_at_bound=12,
            n_unconverged=3,
            n_second_looks=15,
            n_draws=400,
            seed=1,
            seconds=12.3,
        ),
        recommended=recommended,
        best=best,
        customary=invented_choice(
            ChoiceRole.CUSTOMARY, (24.0, 72.0, 168.0, 336.0, 672.0), (3, 3, 3, 3, 3), 0.082, batch=batches[1]
        ),
        equal_gain=invented_choice(
            ChoiceRole.EQUAL_GAIN, (6.0, 12.0, 24.0, 72.0, 672.0), (3, 3, 3, 3, 3), 0.041, batch=batches[1]
        ),
        compared=(invented_choice(ChoiceRole.COMPARED, (24.0, 72.0, 672.0), (3, 3, 3), 0.090, batch=batches[0]),),
        tied=(recommended, replace(best, label=ChoiceRole.TIED)),
        n_tied=37,
        next_best=(
            invented_choice(ChoiceRole.NEXT_BEST, (6.0, 24.0, 48.0, 672.0), (3, 3, 3, 2), 0.033, batch=batches[3]),
            invented_choice(ChoiceRole.NEXT_BEST, (6.0, 12.0, 672.0), (3, 3, 3), 0.034, batch=batches[3]),
        ),
        honest=_honest(batches, recommended.schedule),
        limit=Limit(rms=0.02, schedule_rms=0.022, efficiency=0.83, best_ages=((6.0, 0.6), (24.0, 0.3), (672.0, 0.1))),
        ages=tuple(
            AgeRole(
                age_h=age,
                inclusion=0.98 if age in recommended.schedule.ages_h else 0.2,
                rms_if_dropped=0.06 if age in recommended.schedule.ages_h[:-1] else None,
                rms_if_added=None if age in recommended.schedule.ages_h else 0.030,
                is_required=age == 672.0,
            )
            for age in CANDIDATES_H
        ),
        frontier=tuple(
            FrontierPoint(
                n_specimens=count,
                schedule=Schedule((6.0, 24.0, 672.0), (count - 4, 2, 2)),
                rms=0.3 / count,
                nested_rms=0.4 / count,
                cost=400.0 + 55.0 * count,
            )
            for count in range(6, 19)
        ),
        reasons=(
            "It is the cheapest of the choices that the records cannot tell from the best.",
            "Without the 6 h break the error doubles.",
        ),
        cautions=(
            Caution("few-batches", "Only 6 batches: the bounds are wide. Add batches before using it."),
            Caution("late-demould", "A 6 h break needs form removal before 16 h. Agree it with the laboratory."),
        ),
        standing_cautions=("Maturity does not see the loss of later strength that hot early curing causes.",),
        choices=invented_table(),
        growth=invented_growth(batches),
        held_out=tuple(
            HeldOutPoint(
                batch=batch,
                target_age_h=age,
                predicted_mpa=30.0 * (1.02 if place % 2 else 0.95),
                actual_mpa=30.0 + place,
                condition="site-cured companions",
            )
            for place, batch in enumerate(batches)
            for age in TARGETS_H
        ),
        n_leading_cautions=1,
        currency="EUR",
        slip=invented_slip(),
    )


def bare_recommendation() -> Recommendation:
    """The least there can be: nothing held out, nothing optional, no costs, a figure that is not a number."""
    full = invented_recommendation()
    honest = replace(
        full.honest,
        own_batch=None,
        best_nested_rms=None,
        next_batch=None,
        next_batch_unknown_because="No mix has two batches, and no between-batch CV is stated.",
        safe_reading_factor=None,
        safe_reading_basis=None,
        safe_reading_unknown_because="None: two batches cannot bound it.",
        per_target=(),
        folds=(),
        rivals=(),
    )
    lone_figures = replace(full.recommended.error, worst_over_prediction=None, p95_abs=float("nan"))
    lone = replace(full.recommended, cost=None, error=lone_figures, efficiency=None)
    return replace(
        full,
        title="",
        recommended=lone,
        best=lone,
        customary=None,
        equal_gain=None,
        compared=(),
        tied=(),
        n_tied=0,
        next_best=(),
        honest=honest,
        limit=None,
        slip=None,
        ages=(),
        frontier=(),
        reasons=(),
        cautions=(),
        growth=(),
        held_out=(),
        currency="",
        valid_for=replace(full.valid_for, mix="", geometry="", concrete_temperature_c=None),
    )
