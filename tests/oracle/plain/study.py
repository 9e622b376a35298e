"""Which specimens fit, which check, and how far companions fall apart."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from statistics import fmean

import numpy as np
from scipy import interpolate, optimize, stats

from tests.oracle.plain.maturities import Clock, Constants
from tests.oracle.plain.tables import Specimen

WAYS_OF_HALVING = 6


@dataclass
class Check:
    """Companions that one reading is held against."""

    view: int
    unit: int
    batch: str
    mix: str
    target: int
    truth_mpa: float
    n: int
    maturity_h: np.ndarray  # (n_constants,)
    variance: float | None = None  # of a strength that is waited for: relative, of its two interpolated means
    weight: float = 0.0  # over checks of one unit and target they sum to 1


@dataclass
class View:
    """One batch with one way of parting its specimens."""

    batch: str
    mix: str
    unit: int
    mean_mpa: dict[float, float]
    n: dict[float, int]
    maturity_h: dict[float, np.ndarray]  # (n_constants,) at each age
    whole_n: dict[float, int]  # of the fitted cells, those that tell the truth too


@dataclass
class Study:
    ages_h: list[float]
    targets_h: list[float]
    units: list[str]
    views: list[View]
    checks: list[Check]
    cv_ages_h: np.ndarray
    cv: np.ndarray
    companions: list[tuple[int, float, np.ndarray]] = field(default_factory=list)  # view, mean, maturities

    def cv_at(self, age_h: float) -> float:
        """Between known ages by the logarithm of age."""
        return float(np.interp(np.log(age_h), np.log(self.cv_ages_h), self.cv))

    @cached_property
    def check_variance(self) -> np.ndarray:
        """What the companions' own scatter adds to a squared error."""
        return np.array([
            self.cv_at(self.targets_h[check.target]) ** 2 / check.n if check.variance is None else check.variance
            for check in self.checks
        ])  # fmt: skip


def scatter_by_age(specimens: list[Specimen]) -> tuple[np.ndarray, np.ndarray]:
    """CV at every age: pooled, or age by age where Bartlett's test tells the ages apart at 5 %."""
    cells = defaultdict(list)
    for item in specimens:
        cells[item.batch, item.curing, item.placement, item.age_h].append(item.strength_mpa)
    squares, degrees = defaultdict(float), defaultdict(int)
    for (*_, age), values in cells.items():
        squares[age] += sum((value / fmean(values) - 1.0) ** 2 for value in values)
        degrees[age] += len(values) - 1
    ages = sorted(age for age in degrees if degrees[age] > 0)
    freedom = np.array([degrees[age] for age in ages], dtype=float)
    variance = np.array([squares[age] for age in ages]) / freedom
    pooled = float(np.sum(variance * freedom) / np.sum(freedom))
    used = (freedom >= 2) & (variance > 0)
    f, v = freedom[used], variance[used]
    is_by_age = False
    if len(f) > 1:
        statistic = f.sum() * np.log(np.sum(f * v) / f.sum()) - np.sum(f * np.log(v))
        correction = 1.0 + (np.sum(1.0 / f) - 1.0 / f.sum()) / (3.0 * (len(f) - 1))
        is_by_age = bool(stats.chi2.sf(statistic / correction, len(f) - 1) < 0.05)
    cv = np.sqrt(variance) if is_by_age else np.full(len(ages), np.sqrt(pooled))
    return np.array(ages), np.maximum(cv, 0.1 * np.sqrt(pooled))


def study_of(
    specimens: list[Specimen],
    clock: Clock,
    constants: list[Constants],
    targets_h: list[float],
    candidates_h: list[float],
    *,
    stated_cv: float | None = None,
    by_mix: bool = False,
    least_mpa: float = 0.0,
    strengths_mpa: list[float] | None = None,
) -> Study:
    """Views and checks of all batches that were broken at every target; weaker truths than the least judge nothing."""
    standard, site = defaultdict(lambda: defaultdict(list)), defaultdict(lambda: defaultdict(list))
    for item in specimens:
        if item.curing == "standard":
            standard[item.batch][item.age_h].append(item)
        elif item.curing == "site":
            site[item.batch][item.age_h, item.placement].append(item)
    ages, cv = scatter_by_age(specimens)
    if stated_cv is not None:
        cv = np.full(len(ages), stated_cv)
    study = Study(
        sorted({age for cells in standard.values() for age in cells}), list(targets_h), [], [], [], ages, cv
    )  # fmt: skip

    def read(items: list[Specimen]) -> np.ndarray:
        return np.array([fmean(clock.of(item, one) for item in items) for one in constants])

    for batch, cells in standard.items():
        if strengths_mpa:
            parted = _parted_about(cells, site[batch], strengths_mpa, candidates_h)
        elif (strong := _strong_enough(cells, site[batch], targets_h, least_mpa)) is None:
            continue
        else:
            site[batch] = strong
            parted = _parted(cells, strong, targets_h, candidates_h)
        for number, (fit, truths) in enumerate(parted):
            mix = next(iter(cells.values()))[0].mix
            name = mix if by_mix else batch
            if name not in study.units:
                study.units.append(name)
            unit = study.units.index(name)
            study.views.append(
                View(
                    batch, mix, unit,
                    {age: fmean(item.strength_mpa for item in items) for age, items in fit.items()},
                    {age: len(items) for age, items in fit.items()},
                    {age: read(items) for age, items in fit.items()},
                    {age: len(cells[age]) for age in fit},
                )
            )  # fmt: skip
            at = len(study.views) - 1
            if number == 0:
                for _, items in sorted(site[batch].items()):
                    study.companions.append((at, fmean(item.strength_mpa for item in items), read(items)))
            for target, items in truths:
                if strengths_mpa:
                    study.checks.append(_reached(study, (at, unit, batch, mix, target), items, strengths_mpa, read))
                    continue
                truth = fmean(item.strength_mpa for item in items)
                study.checks.append(Check(at, unit, batch, mix, target, truth, len(items), read(items)))
    _weigh(study)
    return study


def _mean(items) -> float:
    return fmean(item.strength_mpa for item in items) if items else 0.0


def _strong_enough(cells, site, targets_h, least_mpa):
    """Companions that are strong enough to tell a truth; None where a target has none that is."""
    strong = {key: items for key, items in site.items() if _mean(items) >= least_mpa}
    n_truths = {target: sum(age == target for age, _ in site) for target in targets_h}
    if any(
        not any(age == target for age, _ in strong) if n_truths[target] else _mean(cells.get(target, [])) < least_mpa
        for target in targets_h
    ):
        return None
    return strong


def _parted(cells, site, targets_h, candidates_h):
    """Ways of parting one batch; none where a target was not broken."""
    truths, halved, fit = [], [], dict(cells)
    for target, age in enumerate(targets_h):
        companions = [items for (at, _place), items in sorted(site.items()) if at == age]
        if companions:
            truths += [(target, items) for items in companions]
        elif age not in cells:
            return []
        elif len(cells[age]) >= 4 and age in candidates_h:
            halved.append((target, age))
        else:
            truths.append((target, fit.pop(age)))
    if not halved:
        return [(fit, truths)]
    ways = []
    for way in range(WAYS_OF_HALVING):
        own_fit, own_truths = dict(fit), list(truths)
        for target, age in halved:
            items = cells[age]
            halves = list(combinations(items, len(items) // 2))
            truth = halves[way * len(halves) // WAYS_OF_HALVING]
            own_fit[age] = [item for item in items if not any(item is other for other in truth)]
            own_truths.append((target, list(truth)))
        ways.append((own_fit, own_truths))
    return ways


def _groups_about(cells, site, strength):
    """The means next below and next above a strength, 10 % apart or more, then those of the room beside the two.

    None where one of the first two is missing.
    """
    groups = [(fmean(i.strength_mpa for i in items), age, None, items) for age, items in cells.items()]
    groups += [(fmean(i.strength_mpa for i in items), age, place, items) for (age, place), items in site.items()]
    below = sorted([g for g in groups if g[0] <= strength], key=lambda g: -g[0])
    above = sorted([g for g in groups if g[0] > strength], key=lambda g: g[0])
    while below and above and above[0][0] < 1.1 * below[0][0]:
        nearer_below = strength - below[0][0] < above[0][0] - strength
        (below if (nearer_below and len(below) > 1) or (not nearer_below and len(above) == 1) else above).pop(0)
    if not (below and above):
        return None
    room = [(mean, items) for mean, _, place, items in groups if place is None]
    beside = max((g for g in room if 1.1 * g[0] <= below[0][0]), key=lambda g: g[0], default=None)
    beyond = min((g for g in room if g[0] >= 1.1 * above[0][0]), key=lambda g: g[0], default=None)
    return below[0], above[0], beside, beyond


def _parted_about(cells, site, strengths, candidates_h):
    """Ways of parting one batch: standard-cured cells beside a strength are halved, one of two or three tells."""
    found = [_groups_about(cells, site, strength) for strength in strengths]
    if None in found:
        return []
    beside = {age for pair in found for _, age, place, _ in pair[:2] if place is None}
    whole = {age for age in beside if age not in candidates_h or len(cells[age]) < 2}
    fit = {age: items for age, items in cells.items() if age not in whole}
    ways = []
    halvings = {age: list(combinations(cells[age], len(cells[age]) // 2)) for age in beside - whole}
    n_ways = min(WAYS_OF_HALVING, max(map(len, halvings.values()), default=1))
    for way in range(n_ways):
        own_fit, stated = dict(fit), dict(cells)
        for age, halves in halvings.items():
            stated[age] = list(halves[way * len(halves) // n_ways])
            own_fit[age] = [item for item in cells[age] if not any(item is other for other in stated[age])]
        truths = [
            (
                target,
                (
                    [(mean, age, stated[age] if place is None else items) for mean, age, place, items in pair[:2]],
                    pair[2:],
                ),
            )
            for target, pair in enumerate(found)
        ]
        ways.append((own_fit, truths))
    return ways


def _reached(study, where, groups, strengths, read) -> Check:
    """The maturity of a strength on the cubic through the whole cells, moved by the halves that tell it."""
    strength, (pair, beside) = strengths[where[4]], groups
    (low, low_age, low_items), (high, high_age, high_items) = pair
    share = (strength - low) / (high - low)
    told_low, told_high = (fmean(i.strength_mpa for i in items) for items in (low_items, high_items))
    off = (1 - share) * (told_low - low) + share * (told_high - high)
    knots = [(np.log(read(low_items)), low), (np.log(read(high_items)), high)]
    knots += [(np.log(read(g[1])), g[0]) for g in beside if g is not None]
    logs = [_on_cubic([(log[m], mpa) for log, mpa in knots], strength, share, off) for m in range(len(knots[0][0]))]
    variance = ((1 - share) * study.cv_at(low_age) * told_low / strength) ** 2 / len(low_items)
    variance += (share * study.cv_at(high_age) * told_high / strength) ** 2 / len(high_items)
    return Check(*where, strength, 0, np.exp(np.array(logs)), variance)


def _on_cubic(knots, strength, share, off) -> float:
    """Where scipy's monotone cubic reaches a strength, less what the halves read too much over its slope there."""
    (first, low), (last, high) = knots[:2]
    if last <= first:
        return first + share * (last - first)
    used = [knots[0], knots[1]] + [(x, y) for x, y in knots[2:] if (y < low and x < first) or (y > high and x > last)]
    x, y = zip(*sorted(used), strict=True)
    cubic = interpolate.PchipInterpolator(x, y)
    at = optimize.brentq(lambda one: float(cubic(one)) - strength, first, last, xtol=1e-14)
    return at - off / float(cubic(at, 1))


def _weigh(study: Study) -> None:
    """Conditions average inside a view, views inside a batch, batches inside a unit."""
    for check in study.checks:
        beside = [other for other in study.checks if other.view == check.view and other.target == check.target]
        views = [view for view in study.views if view.batch == check.batch]
        batches = {view.batch for view in study.views if view.unit == check.unit}
        check.weight = 1.0 / (len(beside) * len(views) * len(batches))
