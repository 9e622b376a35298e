"""Within-test scatter: how far the replicates of one age fall apart.

Pooled over all cells with two specimens or more, as relative residuals ``y / mean - 1``; by age where
the records say that ages differ (Bartlett's test at 5 %), which early ages usually do.

References
----------
Bartlett 1937, Proc. R. Soc. A 160:268, for the test of equal variances.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from scipy.special import chdtrc

from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Prior
from planner.terms.records import Break

FALLBACK_CV = 0.032  # ASTM C39, 100x200 mm cylinders in the laboratory (from memory)
FEWEST_RESIDUALS = 12  # below that many, draws come from the normal law instead of the residuals


class ScatterSource(StrEnum):
    """Where the figures come from."""

    STATED = "stated in the plan"
    STATED_BY_AGE = "stated in the plan, by age"
    POOLED = "replicates in the records, pooled over ages"
    BY_AGE = "replicates in the records, by age"
    ASSUMED = "no replicates in the records: 3.2 % assumed, the precision of 100x200 mm cylinders"

    @property
    def is_stated(self) -> bool:
        return self in (ScatterSource.STATED, ScatterSource.STATED_BY_AGE)


@dataclass(frozen=True, slots=True, eq=False)
class Scatter:
    """Relative scatter of single specimens about their batch's true mean, by age."""

    ages_h: FloatArray  # ages with residuals or stated figures [h], rising, shape (n_ages,)
    cv: FloatArray  # relative, shape (n_ages,)
    n_degrees: FloatArray  # degrees of freedom behind each, shape (n_ages,)
    pooled_cv: float
    is_by_age: bool  # the records (or the user) say that ages differ
    source: ScatterSource
    residual: FloatArray  # scaled by sqrt(n / (n - 1)) and divided by the CV of their age, shape (n_residuals,)
    residual_age_h: FloatArray  # shape (n_residuals,)

    def cv_at(self, ages_h: FloatArray) -> FloatArray:
        """CV at any ages: interpolated in the logarithm of age, level outside the known ones."""
        if self.ages_h.size == 0 or not self.is_by_age:
            return np.full(np.shape(ages_h), self.pooled_cv)
        return np.interp(np.log(ages_h), np.log(self.ages_h), self.cv)

    def standard_residuals(self, age_h: float) -> FloatArray:
        """Residuals to draw from at an age, in units of its CV; empty where draws should be normal."""
        if not self.is_by_age:
            return self.residual if self.residual.size >= FEWEST_RESIDUALS else self.residual[:0]
        own = self.residual[np.isclose(self.residual_age_h, age_h)]
        if own.size >= FEWEST_RESIDUALS:
            return own
        return self.residual if self.residual.size >= FEWEST_RESIDUALS else self.residual[:0]


def scatter_by_geometry(breaks: Sequence[Break], prior: Prior) -> dict[str, Scatter]:
    """The scatter of what curves are fitted to under "", that of every other geometry under its name.

    One geometry, or none selected, is pooled as a whole. Truths of another geometry have a scatter of their own: a
    small cube scatters more than a large cylinder. What the plan states is said of the selected geometry, but for what
    it states of truths.
    """
    others = dict.fromkeys(item.geometry for item in breaks if item.geometry != prior.geometry)
    if prior.geometry is None or not others or len(others) == len({item.geometry for item in breaks}):
        return {"": within_test_scatter(breaks, prior)}
    unstated = replace(prior, within_test_cv=None, within_test_cv_by_age=prior.truth_cv_by_age)
    found = {name: within_test_scatter([one for one in breaks if one.geometry == name], unstated) for name in others}
    own = within_test_scatter([item for item in breaks if item.geometry == prior.geometry], prior)
    return {"": own, **found}


def within_test_scatter(breaks: Sequence[Break], prior: Prior) -> Scatter:
    """Pool the scatter of replicates, or take what the plan states.

    Parameters
    ----------
    breaks
        Usable breaks. Replicates share batch, curing, placement and nominal age.
    prior
        Stated figures beat the records.
    """
    cells: dict[tuple[str, str, str, float], list[float]] = defaultdict(list)
    for item in breaks:
        cells[(item.batch, item.curing, item.placement, item.age_h)].append(item.strength_mpa)
    residuals: dict[float, list[float]] = defaultdict(list)
    squares: dict[float, float] = defaultdict(float)
    degrees: dict[float, int] = defaultdict(int)
    for (_batch, _curing, _placement, age_h), strengths in cells.items():
        n = len(strengths)
        if n < 2:
            continue
        relative = np.asarray(strengths) / np.mean(strengths) - 1.0
        residuals[age_h].extend(relative * np.sqrt(n / (n - 1)))
        squares[age_h] += float(relative @ relative)
        degrees[age_h] += n - 1
    ages = sorted(degrees)
    n_degrees = np.array([degrees[age] for age in ages], dtype=np.float64)
    variance = np.array([squares[age] / degrees[age] for age in ages])
    stated = _scatter_of_plan(prior, ages, n_degrees)
    if stated is not None:
        return stated
    if not ages or not np.any(variance > 0):
        return Scatter(
            np.empty(0), np.empty(0), np.empty(0), FALLBACK_CV, False,
            ScatterSource.ASSUMED, np.empty(0), np.empty(0),
        )  # fmt: skip
    pooled = float(np.sqrt(np.sum(variance * n_degrees) / np.sum(n_degrees)))
    is_by_age = _differ(variance, n_degrees)
    cv = np.sqrt(variance) if is_by_age else np.full(len(ages), pooled)
    cv = np.maximum(cv, 0.1 * pooled)
    return Scatter(
        np.array(ages), cv, n_degrees, pooled, is_by_age,
        ScatterSource.BY_AGE if is_by_age else ScatterSource.POOLED,
        _unit_residuals([np.sort(residuals[age]) for age in ages], is_by_age=is_by_age),
        np.concatenate([np.full(len(residuals[age]), age) for age in ages]),
    )  # fmt: skip


def _unit_residuals(by_age: list[FloatArray], *, is_by_age: bool) -> FloatArray:
    """Residuals with a mean square of exactly 1, age by age or all together, so that draws carry the CV."""

    def scaled(values: FloatArray) -> FloatArray:
        size = float(np.sqrt(np.mean(values**2)))
        return values / size if size > 0 else values

    if is_by_age:
        return np.concatenate([scaled(values) for values in by_age])
    return scaled(np.concatenate(by_age))


def _scatter_of_plan(prior: Prior, ages: list[float], n_degrees: FloatArray) -> Scatter | None:
    """Take the plan's own figures; draws are then normal."""
    none = np.empty(0)
    if prior.within_test_cv_by_age:
        stated_ages, stated_cv = (np.array(column) for column in zip(*prior.within_test_cv_by_age, strict=True))
        return Scatter(
            stated_ages, stated_cv, np.zeros(len(stated_ages)), float(np.sqrt(np.mean(stated_cv**2))),
            True, ScatterSource.STATED_BY_AGE, none, none,
        )  # fmt: skip
    if prior.within_test_cv is not None:
        return Scatter(
            np.array(ages), np.full(len(ages), prior.within_test_cv), n_degrees, prior.within_test_cv,
            False, ScatterSource.STATED, none, none,
        )  # fmt: skip
    return None


def _differ(variance: FloatArray, n_degrees: FloatArray) -> bool:
    """Bartlett's test of equal variances at 5 %, over ages with two degrees of freedom or more."""
    is_used = (n_degrees >= 2) & (variance > 0)
    variance, n_degrees = variance[is_used], n_degrees[is_used]
    n_ages = variance.size
    if n_ages < 2:
        return False
    total = np.sum(n_degrees)
    pooled = np.sum(n_degrees * variance) / total
    statistic = total * np.log(pooled) - np.sum(n_degrees * np.log(variance))
    correction = 1.0 + (np.sum(1.0 / n_degrees) - 1.0 / total) / (3.0 * (n_ages - 1))
    return bool(chdtrc(n_ages - 1, statistic / correction) < 0.05)
