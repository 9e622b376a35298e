"""The breaks of one trial batch as cell means, and its site-cured companions as groups."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

import numpy as np

from planner.evidence.maturity_grid import BreakMaturity
from planner.evidence.within_test_scatter import Scatter
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.maturity.inside_records import is_comparable
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.records import Break


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchMeans:
    """Standard-cured breaks of one batch, averaged at each age. Arrays are ``(n_ages,)``, youngest first."""

    batch: str
    age_h: FloatArray  # since age zero [h]
    maturity_h: FloatArray  # [h at the reference temperature]
    mean_mpa: FloatArray
    n_specimens: FloatArray
    cv: FloatArray  # scatter of single specimens at the age, relative

    @property
    def mean_sd_mpa(self) -> FloatArray:
        """Standard deviation of each mean from the scatter of its specimens [MPa]."""
        return np.asarray(self.cv * self.mean_mpa / np.sqrt(self.n_specimens))

    def outside(self, span_h: tuple[float, float]) -> list[tuple[float, float]]:
        """Age and maturity [h] of the means that cannot be held against the earlier batches.

        Parameters
        ----------
        span_h
            Least and most maturity of the earlier batches' breaks [h at the reference temperature].
        """
        pairs = zip(self.age_h.tolist(), self.maturity_h.tolist(), strict=True)
        return [(age, at) for age, at in pairs if not is_comparable(at, span_h)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Site-cured specimens of one batch, broken together in one place."""

    batch: str
    age_h: float
    placement: str
    maturity_h: float
    mean_mpa: float
    n_specimens: int
    temperature_c: float | None  # mean inside the concrete up to the break [C]; None: no record


def batch_means(
    breaks: Sequence[Break], break_maturity: BreakMaturity, setting: MaturitySetting, scatter: Scatter
) -> BatchMeans:
    """Average the standard-cured breaks of one batch.

    Parameters
    ----------
    breaks
        Of one batch; others than standard-cured are left out. One standard-cured break or more.
    break_maturity
        Gives every one of them a maturity.
    setting
        Maturity method with its constant.
    scatter
        Of the records, for breaks of every age.

    Raises
    ------
    ValueError
        Where no break is standard-cured or they are of several batches.
    """
    cells: dict[float, list[Break]] = defaultdict(list)
    for item in breaks:
        if item.curing == "standard":
            cells[item.age_h].append(item)
    batches = {item.batch for items in cells.values() for item in items}
    if len(batches) != 1:
        raise ValueError(f"Means are those of the standard-cured breaks of one batch, given {sorted(batches)}.")
    ordered = sorted(cells.items())
    ages = np.array([age for age, _ in ordered])
    return BatchMeans(
        batch=batches.pop(),
        age_h=ages,
        maturity_h=np.array([cell_maturity_h(items, break_maturity, setting) for _, items in ordered]),
        mean_mpa=np.array([fmean(item.strength_mpa for item in items) for _, items in ordered]),
        n_specimens=np.array([float(len(items)) for _, items in ordered]),
        cv=np.asarray(scatter.cv_at(ages)),
    )


def site_groups(breaks: Sequence[Break], break_maturity: BreakMaturity, setting: MaturitySetting) -> tuple[Group, ...]:
    """Average the site-cured breaks by batch, age and place, in order of age.

    Breaks without a maturity must have been taken out before.
    """
    cells: dict[tuple[str, float, str], list[Break]] = defaultdict(list)
    for item in breaks:
        if item.curing == "site":
            cells[item.batch, item.age_h, item.placement].append(item)
    return tuple(
        Group(
            batch=batch,
            age_h=age_h,
            placement=placement,
            maturity_h=cell_maturity_h(items, break_maturity, setting),
            mean_mpa=fmean(item.strength_mpa for item in items),
            n_specimens=len(items),
            temperature_c=mean_temperature_c(items, break_maturity),
        )
        for (batch, age_h, placement), items in sorted(cells.items(), key=lambda cell: (cell[0][1], cell[0]))
    )


def cells_with_maturity(
    breaks: Sequence[Break], break_maturity: BreakMaturity, setting: MaturitySetting
) -> tuple[tuple[Break, float], ...]:
    """The first break of every batch, curing, place and age, with the cell's maturity [h at the reference temperature].

    Breaks without a maturity must have been taken out before.
    """
    cells: dict[tuple[str, str, str, float], list[Break]] = defaultdict(list)
    for item in breaks:
        cells[item.batch, item.curing, item.placement, item.age_h].append(item)
    return tuple((items[0], cell_maturity_h(items, break_maturity, setting)) for items in cells.values())


def cell_maturity_h(items: Sequence[Break], break_maturity: BreakMaturity, setting: MaturitySetting) -> float:
    """Mean maturity of specimens broken together [h at the reference temperature]; a logger's own figure goes first."""
    _, per_hour = maturity_unit(setting)
    return fmean(
        float(break_maturity.cell_maturity([item], (setting,))[0])
        if item.maturity is None
        else item.maturity / per_hour
        for item in items
    )


def mean_temperature_c(items: Sequence[Break], break_maturity: BreakMaturity) -> float | None:
    """Mean temperature inside the concrete from age zero to the break [C]; None without a record."""
    means = []
    for item in items:
        record = break_maturity.record_for(item)
        if record is None:
            return None
        until = min(item.tested_h, float(record.elapsed_h[-1]))
        times = np.concatenate([[0.0], record.elapsed_h[record.elapsed_h < until], [until]])
        means.append(float(np.trapezoid(np.interp(times, record.elapsed_h, record.temperature_c), times) / until))
    return fmean(means)
