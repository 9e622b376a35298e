"""From the errors of every choice to one recommendation with all that must be said of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import metadata

import numpy as np

from planner.choices import (
    choice_set,
    customary_schedule,
    equal_gain_schedule,
    extra_choices,
    spread_evenly,
)
from planner.evidence import Cells
from planner.resampling import Draws, ErrorMatrix, Scoring, error_matrix
from planner.resampling.matrix import Progress
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.enough import Enough
from planner.terms.labels import schedule_label
from planner.terms.problems import Caution, NoScheduleError
from planner.terms.programme import SiteChecks
from planner.terms.recommendation import (
    AgeRole,
    Evidence,
    Honest,
    RatedChoice,
    Recommendation,
    Rival,
    SearchFacts,
    ValidFor,
)
from planner.terms.schedule import Schedule
from planner.terms.settings import Plan, ProgrammeSettings

from .batch_bootstrap import BootstrapVerdict
from .cautions import STANDING, Circumstances, cautions
from .enough import enough
from .honest import Verdict
from .nested import Nested, nested
from .pictures import growth_points, held_out_points
from .placement import PlacementLimit, placement_limit, variant_schedules
from .rated import Rater
from .reasons import reasons
from .rivals import NamedSchedules, compare
from .roles import age_inclusion, age_roles, frontier
from .rule import Rule, Training
from .site_checks import site_checks
from .table import choice_table

MOST_TIED_SHOWN = 20
N_NEXT_BEST = 10
FEWEST_TO_BOOTSTRAP = 3
LIBRARIES = ("numpy", "scipy", "numba")
NOT_SEARCHED = SearchFacts(
    n_choices=0, n_joint_choices=0, n_fits=0, n_at_bound=0, n_unconverged=0, n_second_looks=0,
    n_draws=0, seed=0, seconds=0.0,
)  # fmt: skip
RECALIBRATE_WHEN = (
    "cement, addition, admixture or water-binder ratio changes",
    "aggregate source or batching plant changes",
    "checks on site are consistently more than the tolerance off",
    "concrete temperatures leave the stated range",
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Search:
    """What the search found, and what is needed to speak of it."""

    plan: Plan
    cells: Cells
    offered: IntArray  # positions of the ages that may be broken
    scoring: Scoring
    rule: Rule
    draws: Draws
    cost: FloatArray | None  # of every schedule
    n_visits: IntArray  # of every schedule
    seed: int
    n_workers: int
    progress: Progress | None

    @property
    def matrix(self) -> ErrorMatrix:
        return self.rule.matrix


def advise(search: Search) -> Recommendation:
    """Choose, judge the choosing, and gather everything in one frozen result.

    Raises
    ------
    NoScheduleError
        Where no schedule can be judged on any batch.
    """
    settings, cells, matrix, rule = search.plan.settings, search.cells, search.matrix, search.rule
    all_units = np.ones(cells.n_units, dtype=bool)
    training = rule.training(all_units)
    pick = rule.pick(training)
    if pick is None:
        raise NoScheduleError(
            "No schedule can be judged: no batch holds all ages of any allowed schedule beside its truth at the "
            "target. Add candidate ages that the batches share, or lower fewest_ages."
        )
    tied_rows = rule.tied(training, pick.best)
    rater = Rater(cells, search.scoring, search.draws)
    held_out = nested(rule, cells, search.scoring, search.draws)
    boot = _bootstrap(search, training, tied_rows)
    limit = placement_limit(cells, search.scoring, matrix, search.offered, settings.curves)

    recommended = _priced(search, limit, pick.chosen, rater.rate_row("recommended", matrix, pick.chosen))
    best = _priced(search, limit, pick.best, rater.rate_row("best", matrix, pick.best))
    named, rated_named, named_cautions = _named(search, rater, limit, recommended.schedule.n_ages)
    rivals = _rivals(held_out, named, rated_named)
    honest = Verdict(cells, search.scoring, rule, settings.target, settings.prior).honest(
        recommended, held_out, None if boot is None else boot[0], rivals
    )
    next_best = _next_best(search, training, rater, limit, exclude=recommended.schedule)
    enough_row, sufficiency = _enough(search)
    three = limit.limit_for(recommended.schedule) if limit is not None else None
    customary = next((choice for choice in rated_named if choice.label == "customary"), None)
    said = cautions(Circumstances(settings, search.plan.records, cells, matrix, recommended, honest))
    return Recommendation(
        version=metadata.version("test-age-planner"),
        title=settings.title,
        inputs=dict(search.plan.inputs),
        libraries={name: metadata.version(name) for name in LIBRARIES},
        evidence=_evidence(search),
        valid_for=_valid_for(search, recommended),
        target_ages_h=settings.target.ages_h,
        target_weights=settings.target.shares,
        tolerance=settings.target.tolerance,
        assurance=settings.target.assurance,
        budget_specimens=settings.budget.specimens,
        candidate_ages_h=tuple(float(cells.ages_h[i]) for i in search.offered),
        search=NOT_SEARCHED,
        recommended=recommended,
        best=best,
        customary=customary,
        equal_gain=next((choice for choice in rated_named if choice.label == "equal gain"), None),
        compared=tuple(choice for choice in rated_named if choice.label == "as compared"),
        tied=tuple(
            _priced(search, limit, row, rater.rate_row("tied", matrix, row))
            for row in tied_rows[:MOST_TIED_SHOWN]
        ),
        n_tied=len(tied_rows),
        next_best=next_best,
        honest=honest,
        limit=three,
        ages=_roles(search, pick.chosen, boot),
        frontier=frontier(rule, all_units, search.cost),
        reasons=reasons(
            recommended,
            best,
            n_tied=len(tied_rows),
            n_choices=matrix.n_choices,
            customary=customary,
            next_best=next_best,
            honest=honest,
            limit=three,
        ),
        cautions=(*said, *named_cautions),
        standing_cautions=STANDING,
        choices=choice_table(
            matrix,
            cells,
            search.scoring,
            search.draws,
            cost=search.cost,
            n_visits=search.n_visits,
            evidence="measured",
            n_workers=search.n_workers,
        ),
        growth=growth_points(cells, recommended.maturity),
        held_out=held_out_points(cells, held_out),
        currency=settings.costs.currency if settings.costs else "",
        enough=None
        if enough_row is None
        else _priced(search, limit, enough_row, rater.rate_row("enough", matrix, enough_row)),
        sufficiency=sufficiency,
        checks=_site_checks(search, honest),
    )


def _enough(search: Search) -> tuple[int | None, Enough | None]:
    """The row of the count that is enough, None where no count is; and the verdict in words."""
    settings = search.plan.settings
    found = enough(
        search.rule, search.cells, search.scoring, search.draws, target=settings.target, prior=settings.prior
    )
    if found is None:
        return None, None
    verdict, row = found
    return (row if verdict.is_reached else None), verdict


def _site_checks(search: Search, honest: Honest) -> SiteChecks | None:
    """Checks of later pours; None where nothing is known of the error."""
    if honest.own_batch is None:
        return None
    settings, cells = search.plan.settings, search.cells
    programme = settings.programme or ProgrammeSettings(instrumented=0)
    return site_checks(
        later_rms=honest.own_batch.nested_rms if honest.next_batch is None else honest.next_batch.rms,
        within_test_cv=float(np.mean(cells.check_cv)),
        companions_per_check=programme.companions_per_check,
        n_checks=programme.n_checks,
        tolerance=settings.target.tolerance,
    )


def _bootstrap(
    search: Search, training: Training, tied_rows: IntArray
) -> tuple[BootstrapVerdict, IntArray] | None:
    if len(training.units) < FEWEST_TO_BOOTSTRAP:
        return None
    return search.rule.bootstrap(training, tied_rows, seed=search.seed)


def _priced(search: Search, limit: PlacementLimit | None, row: int, choice: RatedChoice) -> RatedChoice:
    """Add what the laboratory and the limit say."""
    which = search.matrix.choice_of(row)
    return replace(
        choice,
        cost=None if search.cost is None else float(search.cost[which]),
        n_visits=int(search.n_visits[which]),
        efficiency=None if limit is None else limit.efficiency_of(choice.schedule),
    )


def _named(
    search: Search, rater: Rater, limit: PlacementLimit | None, n_ages: int
) -> tuple[NamedSchedules | None, tuple[RatedChoice, ...], tuple[Caution, ...]]:
    """The customary, equal-gain and compared schedules, on the same footing as the recommendation."""
    settings, cells = search.plan.settings, search.cells
    budget, per_age = settings.budget.specimens, settings.choices.specimens_per_age
    customary = customary_schedule(cells.ages_h)
    equal_gain = equal_gain_schedule(cells.typical_mpa(), search.offered, n_ages)
    rows: list[tuple[str, Sequence[int], Sequence[int]]] = []
    for label, positions in (("customary", customary), ("equal gain", equal_gain)):
        counts = spread_evenly(len(positions), budget, per_age) if len(positions) >= 2 else None
        if counts is not None:
            rows.append((label, positions, counts))
    said: list[Caution] = []
    for schedule, found in zip(settings.compare, extra_choices(settings.compare, cells.ages_h), strict=True):
        if found is None:
            said.append(_not_compared(schedule))
        else:
            rows.append(("as compared", *found))
    if not rows:
        return None, (), tuple(said)
    choices = choice_set(cells.ages_h, [(positions, counts) for _, positions, counts in rows])
    matrix = error_matrix(
        cells, choices, search.matrix.joints, search.scoring, n_workers=search.n_workers, is_all_kept=True
    )
    named = NamedSchedules(tuple(label for label, *_ in rows), matrix)
    rated: list[RatedChoice] = []
    for which, (label, *_rest) in enumerate(rows):
        row = named.best_row(which, named.judged_units(which))
        if row is None:
            said.append(_not_compared(choices.schedule(which)))
            continue
        choice = rater.rate(label, choices, which, matrix.joint_of(row))
        if limit is not None:
            choice = replace(choice, efficiency=limit.efficiency_of(choice.schedule))
        rated.append(choice)
    return named, tuple(rated), tuple(said)


def _not_compared(schedule: Schedule) -> Caution:
    return Caution(
        "not-compared",
        f'"{schedule_label(schedule)}" is not compared: no batch that can be checked was broken at all of its '
        "ages.",
    )


def _rivals(
    held_out: Nested | None, named: NamedSchedules | None, rated: tuple[RatedChoice, ...]
) -> tuple[Rival, ...]:
    if named is None or held_out is None:
        return ()
    rivals = []
    for choice in rated:
        which = next(
            i
            for i in range(named.matrix.n_choices)
            if named.matrix.choices.schedule(i) == choice.schedule and named.labels[i] == choice.label
        )
        rival = compare(held_out, named, which, choice.schedule)
        if rival is not None:
            rivals.append(rival)
    return tuple(rivals)


def _next_best(
    search: Search, training: Training, rater: Rater, limit: PlacementLimit | None, *, exclude: Schedule
) -> tuple[RatedChoice, ...]:
    """The ten schedules of lowest score after the recommended one, each with its best curve."""
    matrix = search.matrix
    shown: list[RatedChoice] = []
    seen: set[int] = set()
    for at in np.argsort(training.loss.mean(axis=1), kind="stable"):
        row = int(training.rows[at])
        which = matrix.choice_of(row)
        if which in seen:
            continue
        seen.add(which)
        if matrix.choices.schedule(which) == exclude:
            continue
        shown.append(_priced(search, limit, row, rater.rate_row("next best", matrix, row)))
        if len(shown) == N_NEXT_BEST:
            break
    return tuple(shown)


def _roles(
    search: Search, chosen: int, boot: tuple[BootstrapVerdict, IntArray] | None
) -> tuple[AgeRole, ...]:
    cells, matrix = search.cells, search.matrix
    variants = variant_schedules(search.offered, matrix.choices, matrix.choice_of(chosen))
    scored = None
    if variants:
        choices = choice_set(cells.ages_h, [(positions, counts) for _, positions, counts in variants])
        scored = error_matrix(cells, choices, matrix.joints, search.scoring, n_workers=search.n_workers)
    return age_roles(
        cells,
        search.scoring,
        search.rule,
        search.offered,
        chosen,
        scored,
        [age for age, *_ in variants],
        age_inclusion(search.rule, boot, chosen),
        search.plan.settings.choices.required_ages_h,
    )


def _evidence(search: Search) -> Evidence:
    cells, records = search.cells, search.plan.records
    notes = [f"Scatter of companions: {cells.scatter.basis}."]
    if not records.has_mix_column:
        notes.append("The records name no mix, so all batches count as one mix.")
    if records.voided:
        notes.append(f"{len(records.voided)} voided breaks were not used.")
    return Evidence(
        grade="measured",
        n_batches=len(set(cells.view_batch)),
        n_mixes=len(set(cells.view_mix)),
        n_breaks=cells.n_breaks,
        checked_against=cells.checked_against,
        checked_by_batch=cells.checked_by_batch,
        scatter_by_age=tuple((float(age), float(cv)) for age, cv in zip(cells.ages_h, cells.cv, strict=True)),
        notes=tuple(notes),
    )


def _valid_for(search: Search, recommended: RatedChoice) -> ValidFor:
    settings, cells, records = search.plan.settings, search.cells, search.plan.records
    setting = cells.settings.index(recommended.maturity)
    held = [int(np.argmin(np.abs(cells.ages_h - age))) for age in recommended.schedule.ages_h]
    span = cells.maturity_h[setting][:, held]
    site = [record.temperature_c.mean() for record in records.curing_records if record.curing == "site"]
    geometries = sorted({item.geometry for item in records.breaks if item.geometry})
    return ValidFor(
        mix=settings.mix_name or ", ".join(sorted({mix for mix in cells.view_mix if mix})),
        geometry=", ".join(geometries),
        property=settings.prior.property,
        concrete_temperature_c=(float(min(site)), float(max(site))) if site else None,
        maturity_span_h=(float(np.nanmedian(span[:, 0])), float(np.nanmedian(span[:, -1]))),
        recalibrate_when=RECALIBRATE_WHEN,
    )
