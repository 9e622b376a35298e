"""From records to cells: which breaks are used, how they are parted, and their arrays."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

import numpy as np

from planner.evidence.cells import Cells, Checks, SiteCuredCompanions, Views, WholeCells
from planner.evidence.converted_truths import spread_by_conversion
from planner.evidence.fit_and_truth import FEWEST_TO_SPLIT, Parted, Truth, Wanted, parted
from planner.evidence.maturity_grid import BreakMaturity, maturity_settings, refined
from planner.evidence.reached_strength import ReachedBetween, reached
from planner.evidence.record_words import companions_alone, never_broken, only_checks, without_temperature
from planner.evidence.weak_truths import WeakTruths
from planner.evidence.within_test_scatter import Scatter, scatter_by_geometry
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.labels import age_label
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.records import Break, Records
from planner.terms.results.check_condition import TruthSource
from planner.terms.results.recommended.evidence_figures import CheckedAgainst

CHECKED_AGAINST: dict[TruthSource, CheckedAgainst] = {
    TruthSource.SITE_CURED: "site-cured",
    TruthSource.STANDARD_CURED: "standard-cured",
    TruthSource.BOTH: "mixed",
    TruthSource.DRAWN: "drawn",
}


def tabulate(records: Records, settings: Settings) -> Cells:
    """Turn records into cells, views and checks.

    Raises
    ------
    InputError
        Where a target age was broken in no batch, or breaks have no maturity.
    """
    targets = settings.target.ages_h
    wanted = Wanted(
        targets,
        settings.target.waits_mpa,
        frozenset(age for age in settings.choices.ages_h if age >= settings.final_set_h),
    )
    listed, caution = maturity_settings(records, settings.prior, settings.maturity)
    maturities = refined(listed)
    cautions = [caution] if caution else []
    break_maturity = BreakMaturity(records.curing_records, settings.prior.standard_curing_c)
    is_by_age = maturities[0].method == "age"
    breaks = records.breaks if is_by_age else _timed(records.breaks, break_maturity, cautions)
    standard: dict[str, dict[float, list[Break]]] = defaultdict(lambda: defaultdict(list))
    site: dict[str, dict[tuple[float, str], list[Break]]] = defaultdict(lambda: defaultdict(list))
    for item in breaks:
        if item.curing == "standard":
            standard[item.batch][item.age_h].append(item)
        elif item.curing == "site" and not is_by_age:
            site[item.batch][(item.age_h, item.placement)].append(item)
    _warn_of_unfitted(standard, site, cautions)
    candidates = set(wanted.candidates)
    ages = sorted({age for cells in standard.values() for age in cells})
    views: list[Parted] = []
    weak = WeakTruths(settings.choices.least_strength_mpa)
    for batch, cells in standard.items():
        views += parted(batch, cells, site[batch], wanted, cautions, weak)
    if weak.found:
        cautions.append(weak.caution(len(standard) - len({view.batch for view in views})))
    if not views:
        raise InputError([_no_truth(targets, weak)])
    _warn_of_unrecorded(candidates, ages, cautions)
    candidates &= _broken_to_fit(views, candidates & set(ages), cautions)
    sources = _Sources({item.batch: item.mix for item in breaks}, standard, site, break_maturity, maturities, settings)
    scatters = scatter_by_geometry(breaks, settings.prior)
    scatter = scatters[""]
    names = [sources.unit_name(view.batch) for view in views]
    unit_at = {name: at for at, name in enumerate(dict.fromkeys(names))}
    kinds = {truth.condition.source for view in views for truth in view.checks}
    judged = {view.batch for view in views}
    ages_h = np.array(ages)
    return Cells(
        ages_h=ages_h,
        is_candidate=np.array([age in candidates for age in ages]),
        cv=scatter.cv_at(ages_h),
        target_ages_h=targets,
        target_waits_mpa=settings.target.waits_mpa,
        settings=maturities,
        unit_names=tuple(unit_at),
        views=_views(views, np.array([unit_at[name] for name in names]), ages, sources),
        checks=_checks(views, names, scatters, sources),
        site_cured=_site_cured(views, sources),
        scatter=scatter,
        cautions=tuple(cautions),
        checked_against="mixed" if len(kinds) > 1 else CHECKED_AGAINST[next(iter(kinds))],
        checked_by_batch=_checked_by_batch(views),
        n_breaks=sum(item.batch in judged for item in breaks),
        is_by_mix=settings.prior.hold_out == "mix",
    )


def _timed(breaks: Sequence[Break], break_maturity: BreakMaturity, cautions: list[Caution]) -> list[Break]:
    """Keep breaks that have a maturity; name the others."""
    timed = [item for item in breaks if break_maturity.has_maturity(item)]
    lost = [item for item in breaks if not break_maturity.has_maturity(item)]
    if lost:
        where = sorted({f"{item.batch} ({item.curing}-cured)" for item in lost})
        cautions.append(without_temperature(len(lost), where))
    return timed


def _warn_of_unfitted(standard: Collection[str], site: Iterable[str], cautions: list[Caution]) -> None:
    """Name the batches of which nothing was broken but companions."""
    lost = sorted(set(site).difference(standard))
    if lost:
        cautions.append(companions_alone(lost))


def _warn_of_unrecorded(candidates: set[float], ages: list[float], cautions: list[Caution]) -> None:
    missing = sorted(candidates - set(ages))
    if missing:
        nearest = {age: min(ages, key=lambda known, age=age: abs(np.log(known / age))) for age in missing}  # type: ignore[misc]
        cautions.append(never_broken(nearest))


def _broken_to_fit(views: list[Parted], candidates: set[float], cautions: list[Caution]) -> set[float]:
    """Candidates that a curve can be fitted at; the others are named, their specimens are the truth."""
    held = {age for view in views for age in view.fit_cells}
    if lost := sorted(candidates - held):
        cautions.append(only_checks(lost, FEWEST_TO_SPLIT))
    return held


def _no_truth(targets: tuple[float, ...], weak: WeakTruths) -> Problem:
    listed = ", ".join(age_label(age) for age in targets)
    if weak.found:
        return Problem(
            "plan",
            f"Nothing can be checked at {listed}: {len(weak.found)} truths there are weaker than "
            f"{weak.least_mpa:g} MPa ({'; '.join(weak.found[:2])}), and no batch has another. Choose later targets, or "
            "lower least_strength_mpa where such strengths matter.",
            column="choices.least_strength_mpa",
        )
    return Problem(
        "plan",
        f"No batch was broken at every target age ({listed}), so nothing can be checked. "
        "Choose targets among the ages in the break records, or add batches broken there.",
        column="target.ages",
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Sources:
    """What gives the parted breaks a mix, companions and a maturity."""

    mix: dict[str, str]  # of each batch
    standard: dict[str, dict[float, list[Break]]]  # by batch, then age [h]
    site: dict[str, dict[tuple[float, str], list[Break]]]  # by batch, then age [h] and placement
    break_maturity: BreakMaturity
    maturities: tuple[MaturitySetting, ...]
    settings: Settings

    def maturity_h(self, groups: Sequence[Sequence[Break]]) -> FloatArray:
        """Maturity of groups of replicates under each setting, ``(n_settings, n_groups)``."""
        rows = [self.maturity_of(items) for items in groups]
        return np.ascontiguousarray(np.array(rows).reshape(len(groups), len(self.maturities)).T)

    def maturity_of(self, items: Sequence[Break]) -> FloatArray:
        """Mean maturity of replicates under each setting, ``(n_settings,)``."""
        return self.break_maturity.cell_maturity(items, self.maturities)

    def unit_name(self, batch: str) -> str:
        """What the batch is held out with."""
        return self.mix[batch] if self.settings.prior.hold_out == "mix" else batch


def _views(parts: list[Parted], unit: IntArray, ages: list[float], sources: _Sources) -> Views:
    mean, count, maturity = _cell_means([view.fit_cells for view in parts], ages, sources)
    whole = _cell_means([sources.standard[view.batch] for view in parts], ages, sources)
    return Views(
        unit=unit,
        batch=tuple(view.batch for view in parts),
        mix=tuple(sources.mix[view.batch] for view in parts),
        mean_mpa=mean,
        n_specimens=count,
        maturity_h=maturity,
        whole=WholeCells(*whole),
    )


def _cell_means(
    cells: Sequence[Mapping[float, list[Break]]], ages: list[float], sources: _Sources
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean and count ``(n_views, n_ages)`` and maturity ``(n_settings, n_views, n_ages)`` of what is held."""
    position = {age: i for i, age in enumerate(ages)}
    shape = (len(cells), len(ages))
    mean, count = np.full(shape, np.nan), np.zeros(shape)
    maturity = np.full((len(sources.maturities), *shape), np.nan)
    for v, held in enumerate(cells):
        for age, items in held.items():
            i = position[age]
            mean[v, i] = fmean(item.strength_mpa for item in items)
            count[v, i] = len(items)
            maturity[:, v, i] = sources.break_maturity.cell_maturity(items, sources.maturities)
    return mean, count, maturity


def _checks(parts: list[Parted], unit_names: list[str], scatters: Mapping[str, Scatter], sources: _Sources) -> Checks:
    truths = [(v, truth) for v, view in enumerate(parts) for truth in view.checks]
    ages_h = np.array([sources.settings.target.ages_h[truth.target] for _, truth in truths])
    scatter_of = [scatters.get(truth.specimens[0].geometry, scatters[""]) for _, truth in truths]
    cv = np.array([float(one.cv_at(age)) for one, age in zip(scatter_of, ages_h, strict=True)])
    each = zip(truths, cv, scatter_of, strict=True)
    found = [_told(truth, float(one), scatter, sources) for (_, truth), one, scatter in each]
    checks = Checks(
        view=np.array([v for v, _ in truths]),
        target=np.array([truth.target for _, truth in truths]),
        truth_mpa=np.array([strength_mpa for strength_mpa, _, _ in found]),
        n_specimens=np.array([n_specimens for _, n_specimens, _ in found]),
        cv=cv,
        maturity_h=np.ascontiguousarray(np.array([maturity_h for _, _, maturity_h in found]).T),
        weight=_check_weights(parts, unit_names),
        condition=tuple(truth.condition for _, truth in truths),
        conversion_cv=np.array([truth.specimens[0].conversion_cv for _, truth in truths]),
    )
    return spread_by_conversion(checks)


def _told(truth: Truth, cv: float, scatter: Scatter, sources: _Sources) -> tuple[float, float, FloatArray]:
    """Strength, specimens behind it and maturity of one truth.

    A strength that is waited for is exact, its maturity is not: what that is worth in strength is told as so many
    specimens, so that one variance, CV^2 / n, serves both kinds.
    """
    if truth.reached is None:
        mean = fmean(item.strength_mpa for item in truth.specimens)
        return mean, float(len(truth.specimens)), sources.maturity_of(truth.specimens)
    strength_mpa = sources.settings.target.waits_mpa[truth.target]
    assert strength_mpa is not None
    found = _reached(truth, strength_mpa, scatter, sources)
    return strength_mpa, cv**2 / found.variance, found.maturity_h


def _reached(truth: Truth, strength_mpa: float, scatter: Scatter, sources: _Sources) -> ReachedBetween:
    assert truth.reached is not None
    below, above = (float(one) for one in scatter.cv_at(np.array([group.age_h for group in truth.reached.between])))
    return reached(
        truth.reached,
        (truth.specimens, truth.stronger),
        sources.maturity_of,
        strength_mpa,
        cv=(below, above),
    )


def _site_cured(parts: list[Parted], sources: _Sources) -> SiteCuredCompanions:
    first_view = {view.batch: v for v, view in reversed(list(enumerate(parts)))}
    weak = WeakTruths(sources.settings.choices.least_strength_mpa)
    companions = [
        (v, age_h, place, items)
        for batch, v in first_view.items()
        for (age_h, place), items in sorted(sources.site[batch].items())
        if not weak.is_weak(items)
    ]
    return SiteCuredCompanions(
        view=np.array([v for v, *_ in companions], dtype=np.int64),
        age_h=np.array([age_h for _, age_h, _, _ in companions]),
        place=tuple(place for _, _, place, _ in companions),
        truth_mpa=np.array([fmean(item.strength_mpa for item in items) for *_, items in companions]),
        n_specimens=np.array([float(len(items)) for *_, items in companions]),
        maturity_h=sources.maturity_h([items for *_, items in companions]),
    )


def _checked_by_batch(parts: list[Parted]) -> tuple[tuple[str, str], ...]:
    by_batch = {view.batch: sorted({str(truth.condition) for truth in view.checks}) for view in parts}
    return tuple((batch, ", ".join(conditions)) for batch, conditions in by_batch.items())


def _check_weights(views: list[Parted], units: list[str]) -> FloatArray:
    """Weigh checks so that conditions average inside a view, views inside a batch, batches inside a unit."""
    batches: dict[str, set[str]] = defaultdict(set)
    n_views: dict[str, int] = defaultdict(int)
    for view, unit in zip(views, units, strict=True):
        batches[unit].add(view.batch)
        n_views[view.batch] += 1
    weights = []
    for view, unit in zip(views, units, strict=True):
        n_checks: dict[int, int] = defaultdict(int)
        for truth in view.checks:
            n_checks[truth.target] += 1
        n_alike = len(batches[unit]) * n_views[view.batch]
        weights += [1.0 / (n_alike * n_checks[truth.target]) for truth in view.checks]
    return np.array(weights)
