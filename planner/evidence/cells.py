"""The prior breaks as arrays: a cell mean for every batch and age, and what each batch is checked against.

A *view* is one batch seen with one way of parting its specimens between fit and truth, see
:mod:`planner.evidence.fit_and_truth`. A *check* is one measured truth that a reading of a view is held against.
A *unit* is what is held out: a batch, or a whole mix.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.evidence.within_test_scatter import Scatter
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.maturity import MaturitySetting
from planner.terms.problems import Caution
from planner.terms.results.check_condition import CheckCondition
from planner.terms.results.recommended.evidence_figures import CheckedAgainst


@dataclass(frozen=True, slots=True, eq=False)
class WholeCells:
    """Standard-cured cells with all their specimens, those too that tell the truth."""

    mean_mpa: FloatArray  # (n_views, n_ages), NaN: never broken
    n_specimens: FloatArray  # (n_views, n_ages)
    maturity_h: FloatArray  # (n_settings, n_views, n_ages)

    def take(self, index: IntArray) -> WholeCells:
        """Those of some of the views."""
        return WholeCells(
            self.mean_mpa[index], self.n_specimens[index], np.ascontiguousarray(self.maturity_h[:, index])
        )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Views:
    """Batches as a curve is fitted to them."""

    unit: IntArray  # (n_views,)
    batch: tuple[str, ...]
    mix: tuple[str, ...]
    mean_mpa: FloatArray  # (n_views, n_ages), NaN: a hole
    n_specimens: FloatArray  # behind each mean, (n_views, n_ages), 0: a hole
    maturity_h: FloatArray  # (n_settings, n_views, n_ages), NaN: a hole
    whole: WholeCells

    def __len__(self) -> int:
        return len(self.batch)

    @property
    def batch_code(self) -> IntArray:
        """A whole number for the batch of each view, in the order in which they first come, ``(n_views,)``."""
        return _codes(self.batch)

    @property
    def mix_code(self) -> IntArray:
        """The same for its mix."""
        return _codes(self.mix)

    def take(self, index: IntArray) -> Views:
        """Some of the views, in the order of `index`."""
        return Views(
            unit=self.unit[index],
            batch=tuple(self.batch[v] for v in index),
            mix=tuple(self.mix[v] for v in index),
            mean_mpa=self.mean_mpa[index],
            n_specimens=self.n_specimens[index],
            maturity_h=np.ascontiguousarray(self.maturity_h[:, index]),
            whole=self.whole.take(index),
        )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Checks:
    """Measured truths that readings are held against, those of one view together."""

    view: IntArray  # (n_checks,), rising
    target: IntArray  # position of the target age, (n_checks,)
    truth_mpa: FloatArray  # mean of the specimens that tell it, (n_checks,)
    n_specimens: FloatArray  # behind it, (n_checks,)
    cv: FloatArray  # their scatter, (n_checks,)
    maturity_h: FloatArray  # (n_settings, n_checks)
    weight: FloatArray  # sums to 1 over each unit and target, (n_checks,)
    condition: tuple[CheckCondition, ...]
    conversion_cv: FloatArray  # of a converted truth, signed as it is spread; 0: measured as it counts, (n_checks,)

    def __len__(self) -> int:
        return len(self.view)

    def take(self, index: IntArray) -> Checks:
        """Some of the checks, in the order of `index`; views and weights stay what they are."""
        return Checks(
            view=self.view[index],
            target=self.target[index],
            truth_mpa=self.truth_mpa[index],
            n_specimens=self.n_specimens[index],
            cv=self.cv[index],
            maturity_h=np.ascontiguousarray(self.maturity_h[:, index]),
            weight=self.weight[index],
            condition=tuple(self.condition[k] for k in index),
            conversion_cv=self.conversion_cv[index],
        )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SiteCuredCompanions:
    """Site-cured means of every age, not only at the targets: they tell maturity constants apart."""

    view: IntArray  # first of their batch, (n_companions,)
    age_h: FloatArray  # nominal [h], (n_companions,)
    place: tuple[str, ...]  # where on site, "" where the records do not say, (n_companions,)
    truth_mpa: FloatArray  # (n_companions,)
    n_specimens: FloatArray  # behind it, (n_companions,)
    maturity_h: FloatArray  # (n_settings, n_companions)

    def __len__(self) -> int:
        return len(self.view)

    def take(self, index: IntArray) -> SiteCuredCompanions:
        """Some of them, in the order of `index`."""
        return SiteCuredCompanions(
            view=self.view[index],
            age_h=self.age_h[index],
            place=tuple(self.place[k] for k in index),
            truth_mpa=self.truth_mpa[index],
            n_specimens=self.n_specimens[index],
            maturity_h=np.ascontiguousarray(self.maturity_h[:, index]),
        )

    @classmethod
    def none(cls, n_settings: int) -> SiteCuredCompanions:
        """Where no batch has any."""
        return cls(
            view=np.empty(0, dtype=np.int64),
            age_h=np.empty(0),
            place=(),
            truth_mpa=np.empty(0),
            n_specimens=np.empty(0),
            maturity_h=np.empty((n_settings, 0)),
        )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cells:
    """Everything the engine reads. Ages are all recorded ages, candidates or not."""

    ages_h: FloatArray  # recorded standard-cured ages, rising [h], (n_ages,)
    is_candidate: BoolArray  # may be offered, (n_ages,)
    cv: FloatArray  # within-test scatter at each age, (n_ages,)
    target_ages_h: tuple[float, ...]
    target_waits_mpa: tuple[float | None, ...]  # of each target: the strength waited for, None where an age is asked
    settings: tuple[MaturitySetting, ...]  # maturity settings in the search
    unit_names: tuple[str, ...]
    views: Views
    checks: Checks
    site_cured: SiteCuredCompanions
    scatter: Scatter
    cautions: tuple[Caution, ...]
    checked_against: CheckedAgainst
    checked_by_batch: tuple[tuple[str, str], ...]
    n_breaks: int
    is_by_mix: bool = False  # a unit is a whole mix of measured batches

    @property
    def n_units(self) -> int:
        return len(self.unit_names)

    @property
    def check_unit(self) -> IntArray:
        """Unit of each check, ``(n_checks,)``."""
        return self.views.unit[self.checks.view]

    def of_views(self, kept: IntArray) -> Cells:
        """Some of the views with what belongs to them, in their order; weights of the checks stay what they are.

        Parameters
        ----------
        kept
            Rising, ``(n_kept,)``.
        """
        place = np.full(len(self.views), -1)
        place[kept] = np.arange(len(kept))
        checks = self.checks.take(np.flatnonzero(place[self.checks.view] >= 0))
        companions = self.site_cured.take(np.flatnonzero(place[self.site_cured.view] >= 0))
        return replace(
            self,
            views=self.views.take(kept),
            checks=replace(checks, view=place[checks.view]),
            site_cured=replace(companions, view=place[companions.view]),
        )

    def typical_mpa(self) -> FloatArray:
        """Mean strength over batches at each age, for what can be broken and equal gain, ``(n_ages,)``."""
        held = self.views.n_specimens > 0
        total = np.where(held, self.views.mean_mpa, 0.0).sum(axis=0)
        return np.asarray(total / np.maximum(held.sum(axis=0), 1))


def _codes(names: Sequence[str]) -> IntArray:
    code = {name: at for at, name in enumerate(dict.fromkeys(names))}
    return np.array([code[name] for name in names], dtype=np.int64)
