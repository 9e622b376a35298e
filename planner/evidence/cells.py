"""The prior breaks as arrays: a cell mean for every batch and age, and what each batch is checked against.

A *view* is one batch seen with one way of parting its specimens between fit and truth. A batch whose
truth comes from companions of its own (site-cured) has one view. Where the truth must come from the
standard-cured specimens of an age that may also be broken, the batch has one view for each way of
halving that cell, and its errors are averaged over them: fit and truth never share a specimen.
A *unit* is what is held out: a batch, or a whole mix.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations
from statistics import fmean

import numpy as np

from planner.evidence.maturity_grid import Clock, maturity_settings
from planner.evidence.within_test_scatter import Scatter, within_test_scatter
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.labels import age_label
from planner.terms.maturity import MaturitySetting
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.recommendation import CheckedAgainst
from planner.terms.records import Break, Records
from planner.terms.settings import Settings

MOST_SPLITS = 6  # ways of halving a cell that are averaged: all of them for four specimens
FEWEST_TO_SPLIT = 4


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cells:
    """Everything the engine reads. Ages are all recorded ages, candidates or not."""

    ages_h: FloatArray  # recorded standard-cured ages, rising [h], (n_ages,)
    is_candidate: BoolArray  # may be offered, (n_ages,)
    settings: tuple[MaturitySetting, ...]  # maturity settings in the search
    unit_names: tuple[str, ...]
    view_unit: IntArray  # unit of each view, (n_views,)
    view_batch: tuple[str, ...]
    view_mix: tuple[str, ...]
    mean_mpa: FloatArray  # (n_views, n_ages), NaN: a hole
    n_specimens: FloatArray  # behind each mean, (n_views, n_ages), 0: a hole
    maturity_h: FloatArray  # (n_settings, n_views, n_ages), NaN: a hole
    cv: FloatArray  # within-test scatter at each age, (n_ages,)
    check_view: IntArray  # (n_checks,), rising
    check_target: IntArray  # position of the target age, (n_checks,)
    check_truth_mpa: FloatArray  # mean of the companions, (n_checks,)
    check_n: FloatArray  # companions behind it, (n_checks,)
    check_cv: FloatArray  # their scatter, (n_checks,)
    check_maturity_h: FloatArray  # (n_settings, n_checks)
    check_weight: FloatArray  # sums to 1 over each unit and target, (n_checks,)
    check_condition: tuple[str, ...]  # "site-cured (cool night)", "standard-cured"
    target_ages_h: tuple[float, ...]
    scatter: Scatter
    cautions: tuple[Caution, ...]
    checked_against: CheckedAgainst
    checked_by_batch: tuple[tuple[str, str], ...]
    n_breaks: int
    # Site-cured cells of every age, not only at the targets: they tell maturity constants apart.
    companion_view: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))  # (n_companions,)
    companion_truth_mpa: FloatArray = field(default_factory=lambda: np.empty(0))  # (n_companions,)
    companion_maturity_h: FloatArray = field(default_factory=lambda: np.empty((0, 0)))  # (n_settings, n_companions)

    @property
    def n_units(self) -> int:
        return len(self.unit_names)

    @property
    def check_unit(self) -> IntArray:
        """Unit of each check, ``(n_checks,)``."""
        return self.view_unit[self.check_view]

    def typical_mpa(self) -> FloatArray:
        """Mean strength over batches at each age, for what can be broken and equal gain, ``(n_ages,)``."""
        held = self.n_specimens > 0
        total = np.where(held, self.mean_mpa, 0.0).sum(axis=0)
        return np.asarray(total / np.maximum(held.sum(axis=0), 1))


@dataclass(slots=True)
class _View:
    batch: str
    fit_cells: dict[float, list[Break]]
    checks: list[tuple[int, list[Break], str]]  # target position, companions, condition


def tabulate(records: Records, settings: Settings) -> Cells:
    """Turn records into cells, views and checks.

    Raises
    ------
    InputError
        Where a target age was broken in no batch, or breaks have no maturity.
    """
    targets = settings.target.ages_h
    maturities, caution = maturity_settings(records, settings.prior, settings.maturity)
    cautions = [caution] if caution else []
    clock = Clock(records.curing_records, settings.prior.standard_curing_c)
    is_by_age = maturities[0].method == "age"
    breaks = records.breaks if is_by_age else _timed(records.breaks, clock, cautions)
    standard: dict[str, dict[float, list[Break]]] = defaultdict(lambda: defaultdict(list))
    site: dict[str, dict[tuple[float, str], list[Break]]] = defaultdict(lambda: defaultdict(list))
    for item in breaks:
        if item.curing == "standard":
            standard[item.batch][item.age_h].append(item)
        elif item.curing == "site" and not is_by_age:
            site[item.batch][(item.age_h, item.placement)].append(item)
    candidates = {age for age in settings.choices.ages_h if age >= settings.final_set_h}
    ages = sorted({age for cells in standard.values() for age in cells})
    views: list[_View] = []
    for batch, cells in standard.items():
        views += _views_of(batch, cells, site[batch], targets, candidates, cautions)
    if not views:
        raise InputError([_no_truth(targets)])
    _warn_of_unrecorded(candidates, ages, cautions)
    candidates &= _broken_to_fit(views, candidates & set(ages), cautions)
    return _arrays(views, ages, candidates, maturities, clock, breaks, site, settings, cautions)


def _timed(breaks: Sequence[Break], clock: Clock, cautions: list[Caution]) -> list[Break]:
    """Keep breaks that have a maturity; name the others."""
    timed = [item for item in breaks if clock.can_time(item)]
    lost = [item for item in breaks if not clock.can_time(item)]
    if lost:
        where = sorted({f"{item.batch} ({item.curing}-cured)" for item in lost})
        cautions.append(
            Caution(
                "breaks-without-temperature",
                f"{len(lost)} breaks have no temperature record and are not used: {', '.join(where[:8])}"
                f"{' and others' if len(where) > 8 else ''}. Give their records"
                " or, for standard curing, [prior] standard_curing_c.",
            )
        )
    return timed


def _views_of(
    batch: str,
    cells: dict[float, list[Break]],
    site: dict[tuple[float, str], list[Break]],
    targets: tuple[float, ...],
    candidates: set[float],
    cautions: list[Caution],
) -> list[_View]:
    """Part one batch's specimens between fit and truth; no view where a target has no truth."""
    fixed: list[tuple[int, list[Break], str]] = []
    split_targets: list[int] = []
    fit_cells = dict(cells)
    for position, target in enumerate(targets):
        companions = {key: items for key, items in site.items() if key[0] == target}
        if companions:
            fixed += [
                (position, items, f"site-cured ({place})" if place else "site-cured")
                for (_age, place), items in sorted(companions.items())
            ]
        elif target not in cells:
            cautions.append(
                Caution(
                    "batch-not-checked",
                    f"Batch {batch} was not broken at {age_label(target)} and cannot judge a choice; "
                    "it is left out. Break companions at every target age.",
                )
            )
            return []
        elif len(cells[target]) >= FEWEST_TO_SPLIT and target in candidates:
            split_targets.append(position)
        else:
            fixed.append((position, cells[target], "standard-cured"))
            fit_cells.pop(target, None)
    if not split_targets:
        return [_View(batch, fit_cells, fixed)]
    return [
        _split_view(batch, fit_cells, fixed, [(position, targets[position]) for position in split_targets], r)
        for r in range(MOST_SPLITS)
    ]


def _split_view(
    batch: str,
    cells: dict[float, list[Break]],
    fixed: list[tuple[int, list[Break], str]],
    split_targets: list[tuple[int, float]],
    which: int,
) -> _View:
    """One way of halving the cells at the target ages; the ways are spread evenly over all there are."""
    fit_cells = dict(cells)
    checks = list(fixed)
    for position, target in split_targets:
        items = cells[target]
        ways = list(combinations(range(len(items)), len(items) // 2))
        truth = ways[which * len(ways) // MOST_SPLITS]
        fit_cells[target] = [item for i, item in enumerate(items) if i not in truth]
        checks.append((position, [items[i] for i in truth], "standard-cured"))
    return _View(batch, fit_cells, checks)


def _warn_of_unrecorded(candidates: set[float], ages: list[float], cautions: list[Caution]) -> None:
    missing = sorted(candidates - set(ages))
    if missing:
        nearest = {age: min(ages, key=lambda known, age=age: abs(np.log(known / age))) for age in missing}  # type: ignore[misc]
        listed = ", ".join(f"{age_label(age)} (nearest broken: {age_label(nearest[age])})" for age in missing)
        cautions.append(
            Caution(
                "age-not-in-records",
                f"Candidate ages that no batch was broken at are not offered: {listed}.",
            )
        )


def _broken_to_fit(views: list[_View], candidates: set[float], cautions: list[Caution]) -> set[float]:
    """Candidates that a curve can be fitted at; the others are named, their specimens are the truth."""
    held = {age for view in views for age in view.fit_cells}
    if lost := sorted(candidates - held):
        cautions.append(
            Caution(
                "age-only-checks",
                f"{', '.join(age_label(age) for age in lost)} cannot be a break age: the few specimens there are what "
                f"readings are checked against. Break {FEWEST_TO_SPLIT} or more there, or companions on site.",
            )
        )
    return held


def _no_truth(targets: tuple[float, ...]) -> Problem:
    listed = ", ".join(age_label(age) for age in targets)
    return Problem(
        "plan",
        f"No batch was broken at every target age ({listed}), so nothing can be checked. "
        "Choose targets among the ages in the break records, or add batches broken there.",
        column="target.ages",
    )


def _arrays(
    views: list[_View],
    ages: list[float],
    candidates: set[float],
    maturities: tuple[MaturitySetting, ...],
    clock: Clock,
    breaks: Sequence[Break],
    site: dict[str, dict[tuple[float, str], list[Break]]],
    settings: Settings,
    cautions: list[Caution],
) -> Cells:
    position = {age: i for i, age in enumerate(ages)}
    n_views, n_ages = len(views), len(ages)
    mean = np.full((n_views, n_ages), np.nan)
    count = np.zeros((n_views, n_ages))
    maturity = np.full((len(maturities), n_views, n_ages), np.nan)
    for v, view in enumerate(views):
        for age, items in view.fit_cells.items():
            i = position[age]
            mean[v, i] = fmean(item.strength_mpa for item in items)
            count[v, i] = len(items)
            maturity[:, v, i] = clock.cell_maturity(items, maturities)
    checks = [(v, *check) for v, view in enumerate(views) for check in view.checks]
    mixes = {item.batch: item.mix for item in breaks}
    names = [mixes[view.batch] if settings.prior.hold_out == "mix" else view.batch for view in views]
    unit_names = tuple(dict.fromkeys(names))
    unit_at = {name: at for at, name in enumerate(unit_names)}
    first_view = {view.batch: v for v, view in reversed(list(enumerate(views)))}
    companions = [(v, items) for batch, v in first_view.items() for _, items in sorted(site[batch].items())]
    scatter = within_test_scatter(breaks, settings.prior)
    ages_h = np.array(ages)
    conditions = {view.batch: sorted({check[2] for check in view.checks}) for view in views}
    kinds = {condition.split(" ")[0] for listed in conditions.values() for condition in listed}
    against: CheckedAgainst = (
        "mixed" if len(kinds) > 1 else "site-cured" if kinds == {"site-cured"} else "standard-cured"
    )
    return Cells(
        ages_h=ages_h,
        is_candidate=np.array([age in candidates for age in ages]),
        settings=maturities,
        unit_names=unit_names,
        view_unit=np.array([unit_at[name] for name in names]),
        view_batch=tuple(view.batch for view in views),
        view_mix=tuple(mixes[view.batch] for view in views),
        mean_mpa=mean,
        n_specimens=count,
        maturity_h=maturity,
        cv=scatter.cv_at(ages_h),
        check_view=np.array([v for v, *_ in checks]),
        check_target=np.array([target for _, target, *_ in checks]),
        check_truth_mpa=np.array([fmean(i.strength_mpa for i in items) for _, _, items, _ in checks]),
        check_n=np.array([float(len(items)) for _, _, items, _ in checks]),
        check_cv=scatter.cv_at(np.array([settings.target.ages_h[target] for _, target, *_ in checks])),
        check_maturity_h=np.array([clock.cell_maturity(items, maturities) for _, _, items, _ in checks]).T,
        check_weight=_check_weights(views, names),
        check_condition=tuple(condition for *_, condition in checks),
        target_ages_h=settings.target.ages_h,
        scatter=scatter,
        cautions=tuple(cautions),
        checked_against=against,
        checked_by_batch=tuple((batch, ", ".join(listed)) for batch, listed in conditions.items()),
        n_breaks=len(breaks),
        companion_view=np.array([v for v, _ in companions], dtype=np.int64),
        companion_truth_mpa=np.array([fmean(i.strength_mpa for i in items) for _, items in companions]),
        companion_maturity_h=np.array([clock.cell_maturity(items, maturities) for _, items in companions])
        .reshape(len(companions), len(maturities))
        .T,
    )


def _check_weights(views: list[_View], units: list[str]) -> FloatArray:
    """Weigh checks so that conditions average inside a view, views inside a batch, batches inside a unit."""
    batches: dict[str, set[str]] = defaultdict(set)
    n_views: dict[str, int] = defaultdict(int)
    for view, unit in zip(views, units, strict=True):
        batches[unit].add(view.batch)
        n_views[view.batch] += 1
    weights = []
    for view, unit in zip(views, units, strict=True):
        n_checks: dict[int, int] = defaultdict(int)
        for target, *_ in view.checks:
            n_checks[target] += 1
        weights += [1.0 / (len(batches[unit]) * n_views[view.batch] * n_checks[target]) for target, *_ in view.checks]
    return np.array(weights)
