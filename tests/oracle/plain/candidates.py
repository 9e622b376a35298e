"""Every schedule with every curve, weighting and maturity constant, and its loss in every unit."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations, pairwise, product

import numpy as np
from scipy import stats

from tests.oracle.plain.fits import reading
from tests.oracle.plain.study import Study

Joint = tuple[str, str, int]  # curve, weighting, position of the constants
PIECEWISE = ("piecewise linear", "piecewise linear in log age")


@dataclass(frozen=True)
class Limits:
    """What the laboratory and the budget allow."""

    ages_h: tuple[float, ...]
    fewest_ages: int
    most_ages: int
    per_age: tuple[int, int]
    specimens: int
    least_strength_mpa: float = 0.0
    minimum_gap_h: float = 0.0
    tolerance: float = 0.10
    shares: tuple[float, ...] = (1.0,)
    over_weight: float = 1.0  # how often an over-prediction counts
    is_worst: bool = False  # the worst target counts instead of their mean


@dataclass(frozen=True)
class Schedule:
    ages_h: tuple[float, ...]
    counts: tuple[int, ...]

    @property
    def n(self) -> int:
        return sum(self.counts)

    @cached_property
    def cheapness(self) -> tuple[float, ...]:
        """Without prices: specimens, attendances by calendar day at the best hour of casting, the last age."""
        days = min(
            len({int((half / 2 + age) // 24) for age in self.ages_h}) for half in range(48)
        )  # fmt: skip
        return (self.n, days, self.ages_h[-1])


@dataclass
class Candidates:
    """Rows are joint choices. Arrays ``(n_rows, n_units)`` unless said otherwise."""

    study: Study
    limits: Limits
    schedules: list[Schedule]
    joints: list[Joint]
    schedule_of: np.ndarray  # (n_rows,)
    joint_of: np.ndarray  # (n_rows,)
    loss: np.ndarray
    level: np.ndarray
    variance: np.ndarray
    is_over: np.ndarray
    at_checks: dict[tuple[tuple[float, ...], int], AtChecks]
    penalty: np.ndarray  # (n_joints, n_units)
    memo: dict[object, object] = field(default_factory=dict)  # what was worked out already

    def of(self, row: int) -> tuple[Schedule, int]:
        return self.schedules[self.schedule_of[row]], int(self.joint_of[row])

    def errors(self, schedule: Schedule, joint: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Error, variance of the schedule's specimens and of the records' at every check."""
        at = self.at_checks[schedule.ages_h, joint]
        return at.error, at.shares @ (1.0 / np.array(schedule.counts)), at.prior_variance


@dataclass
class AtChecks:
    """One set of ages with one joint, at every check."""

    error: np.ndarray  # (n_checks,)
    shares: np.ndarray  # variance that one specimen at each age would bring, (n_checks, n_ages)
    prior_variance: np.ndarray  # (n_checks,)


def all_schedules(study: Study, limits: Limits) -> list[Schedule]:
    """Fewer ages first, then by age, then by specimens."""
    offered = []
    for age in study.ages_h:
        broken = [view.mean_mpa[age] for view in study.views if age in view.mean_mpa]
        strong = bool(broken) and np.mean(broken) >= limits.least_strength_mpa
        if age in limits.ages_h and strong:
            offered.append(age)
    found = []
    for n_ages in range(limits.fewest_ages, limits.most_ages + 1):
        for ages in combinations(offered, n_ages):
            if n_ages > 1 and min(b - a for a, b in pairwise(ages)) < limits.minimum_gap_h - 1e-9:
                continue
            counts = product(range(limits.per_age[0], limits.per_age[1] + 1), repeat=n_ages)
            found += [Schedule(ages, each) for each in counts if sum(each) <= limits.specimens]
    return found


def all_joints(curves, n_constants: int) -> list[Joint]:
    return [
        (curve, weighting, m)
        for curve in curves
        for weighting in (("absolute",) if curve in PIECEWISE else ("absolute", "relative"))
        for m in range(n_constants)
    ]


def read_at_checks(study: Study, ages: tuple[float, ...], joint: Joint) -> AtChecks:
    """Every batch fitted alone at these ages and held against its own checks."""
    curve, weighting, m = joint
    error, shares, prior = [], [], []
    for check in study.checks:
        view = study.views[check.view]
        if any(age not in view.mean_mpa for age in ages):
            error.append(np.nan)
            shares.append(np.full(len(ages), np.nan))
            prior.append(np.nan)
            continue
        means = np.array([view.mean_mpa[age] for age in ages])
        fitted = [view.maturity_h[age][m] for age in ages]
        noise = np.array([study.cv_at(age) for age in ages]) * means
        read, slopes = reading(curve, weighting, fitted, means, check.maturity_h[m], noise)
        error.append(read / check.truth_mpa - 1.0)
        shares.append((slopes * noise / check.truth_mpa) ** 2)
        prior.append(float(np.sum(shares[-1] / np.array([view.n[age] for age in ages]))))
    return AtChecks(np.array(error), np.array(shares), np.array(prior))


def by_unit(study: Study, shares: tuple[float, ...], values: np.ndarray, *, target: int | None = None) -> np.ndarray:
    """Add checks up to units, ``(n_checks,) -> (n_units,)``; one target alone where it is given."""
    total = np.zeros(len(study.units))
    for check, value in zip(study.checks, values, strict=True):
        if target is None or check.target == target:
            total[check.unit] += check.weight * (shares[check.target] if target is None else 1.0) * value
    return total


def candidates_of(study: Study, limits: Limits, curves, n_constants: int) -> Candidates:
    """Score everything: e^2 + 2 v, and what all sets of ages say of the curve and companions of the constants."""
    schedules, joints = all_schedules(study, limits), all_joints(curves, n_constants)
    sets = list(dict.fromkeys(schedule.ages_h for schedule in schedules))
    at = {(ages, j): read_at_checks(study, ages, joint) for ages in sets for j, joint in enumerate(joints)}
    n_each = np.mean([n for view in study.views for n in view.n.values()])
    candidates = [age for age in study.ages_h if age in limits.ages_h]
    reference = [ages for size in range(min(3, len(candidates)), 8) for ages in combinations(candidates, size)]
    n_units = len(study.units)
    typical = np.zeros((len(joints), n_units))
    for j in range(len(joints)):
        losses = []
        for ages in reference:
            one = at.get((ages, j)) or read_at_checks(study, ages, joints[j])
            losses.append(
                by_unit(
                    study, limits.shares, counted(study, limits, one.error) ** 2 + 2.0 * one.shares.sum(axis=1) / n_each
                )
            )
        typical[j] = np.nanmedian(losses, axis=0)
    penalty = typical + np.array([companion_distance(study, limits, m) for _, _, m in joints])
    rows = [(s, j) for s in range(len(schedules)) for j in range(len(joints))]
    loss, level, variance, is_over = (np.empty((len(rows), n_units)) for _ in range(4))
    weights = np.zeros((n_units, len(study.checks)))
    for k, check in enumerate(study.checks):
        weights[check.unit, k] = check.weight * limits.shares[check.target]
    unit_of = np.array([check.unit for check in study.checks])
    for row, (s, j) in enumerate(rows):
        one = at[schedules[s].ages_h, j]
        own = one.shares @ (1.0 / np.array(schedules[s].counts))
        variance[row] = _added(weights, own)
        loss[row] = _loss(
            study, limits, weights, expected_loss(counted(study, limits, one.error), own, limits.over_weight)
        )
        loss[row] += penalty[j]
        level[row] = _added(weights, one.error**2 - one.prior_variance - study.check_variance) + variance[row]
        beyond = one.error > limits.tolerance
        is_over[row] = [bool(beyond[unit_of == unit].any()) for unit in range(n_units)]
    return Candidates(
        study, limits, schedules, joints, np.array([s for s, _ in rows]), np.array([j for _, j in rows]),
        loss, level, variance, is_over.astype(bool), at, penalty,
    )  # fmt: skip


def expected_loss(error: np.ndarray, variance: np.ndarray, over_weight: float) -> np.ndarray:
    """Mean of x^2, of over-predictions `over_weight` times x^2, for x normal about e with variance 2 v."""
    plain = error**2 + 2.0 * variance
    if over_weight == 1.0:
        return plain
    deviation = np.sqrt(2.0 * variance)
    a = error / deviation
    more = plain * stats.norm.cdf(a) + error * deviation * stats.norm.pdf(a)  # mean of x^2 above 0
    return plain + (over_weight - 1.0) * more


def _loss(study: Study, limits: Limits, weights: np.ndarray, at_checks: np.ndarray) -> np.ndarray:
    if not limits.is_worst:
        return _added(weights, at_checks)
    alone = [by_unit(study, limits.shares, at_checks, target=target) for target in range(len(limits.shares))]
    return np.max(alone, axis=0)


def _added(weights: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Weighted sums; a unit with a check that cannot be read has none."""
    total = weights @ np.nan_to_num(values)
    return np.where(weights[:, np.isnan(values)].any(axis=1), np.nan, total)


def counted(study: Study, limits: Limits, error: np.ndarray) -> np.ndarray:
    """Errors as the ranking counts them: from ten units on two tolerances at the most."""
    return np.clip(error, -2 * limits.tolerance, 2 * limits.tolerance) if len(study.units) >= 10 else error


def companion_distance(study: Study, limits: Limits, m: int) -> np.ndarray:
    """Squared distance of site-cured companions of every age from the standard means, a line in log maturity."""
    total = np.zeros(len(study.units))
    for at, truth, maturities in study.companions:
        view = study.views[at]
        ages = sorted(view.mean_mpa)
        means = [view.mean_mpa[age] for age in ages]
        line, _ = reading(
            "piecewise linear in log age", "absolute", [view.maturity_h[age][m] for age in ages], means, maturities[m]
        )
        total[view.unit] += counted(study, limits, np.array(line / truth - 1.0)) ** 2
    n_checks = np.array([sum(check.unit == unit for check in study.checks) for unit in range(len(study.units))])
    return total / np.maximum(n_checks, 1)
