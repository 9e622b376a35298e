"""Standard-cured breaks of earlier batches as a population reads them: logarithms of means with maturities."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from statistics import fmean

import numpy as np

from planner.evidence import Scatter, within_test_scatter
from planner.evidence.maturity_grid import BreakMaturity, maturity_settings
from planner.terms.arrays import BoolArray, FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Settings
from planner.terms.problems import Caution, InputError, Problem
from planner.terms.records import Break, Records

NOT_BROKEN = 1e8  # noise of a mean that does not exist
# Median scatter of replicates in open data falls from 5.2 % at 1 d to 3.2 % at 28 d: ln(5.2 / 3.2) / ln(28).
# Carried on to ages younger than any tested, where scatter is not known.
SCATTER_POWER = 0.146


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PriorBreaks:
    """Cell means of earlier batches."""

    batches: tuple[str, ...]
    mixes: tuple[str, ...]  # of each batch
    ages_h: FloatArray  # tested ages, rising [h], (n_ages,)
    maturity_h: FloatArray  # [h at the reference temperature], (n_batches, n_ages); a typical one in a hole
    log_mean: FloatArray  # ln of the mean strength in MPa, (n_batches, n_ages); 0 in a hole
    noise: FloatArray  # variance of that, NOT_BROKEN in a hole, (n_batches, n_ages)
    n_specimens: FloatArray  # (n_batches, n_ages)
    scatter: Scatter
    settings: tuple[MaturitySetting, ...]
    standard_c: float | None  # temperature of standard curing; None where age stands for maturity
    n_breaks: int
    cautions: tuple[Caution, ...]

    @property
    def held(self) -> BoolArray:
        """Which cells exist, ``(n_batches, n_ages)``."""
        return np.asarray(self.n_specimens > 0)

    def typical_h(self) -> FloatArray:
        """Typical maturity of each tested age, ``(n_ages,)``."""
        return np.asarray(np.median(self.maturity_h, axis=0))

    def without_age(self, position: int) -> PriorBreaks:
        """Return the same with one age never broken; the maturities stay to be predicted at."""
        noise, count = self.noise.copy(), self.n_specimens.copy()
        noise[:, position], count[:, position] = NOT_BROKEN, 0.0
        return replace(self, noise=noise, n_specimens=count)

    def only_batches(self, positions: Iterable[int]) -> PriorBreaks:
        """Return the same with some batches alone."""
        kept = list(positions)
        return replace(
            self,
            batches=tuple(self.batches[i] for i in kept),
            mixes=tuple(self.mixes[i] for i in kept),
            maturity_h=self.maturity_h[kept],
            log_mean=self.log_mean[kept],
            noise=self.noise[kept],
            n_specimens=self.n_specimens[kept],
            n_breaks=int(self.n_specimens[kept].sum()),
        )


def prior_breaks(records: Records, settings: Settings) -> PriorBreaks:
    """Gather the standard-cured cell means of the batches of the plan's mix, or of all where it has none.

    Raises
    ------
    InputError
        Where there is no standard-cured break, or none with a maturity.
    """
    maturities, caution = maturity_settings(records, settings.prior, settings.maturity)
    break_maturity = BreakMaturity(records.curing_records, settings.prior.standard_curing_c)
    is_by_age = maturities[0].method == "age"
    usable = [
        item
        for item in records.breaks
        if item.curing == "standard" and item.strength_mpa > 0 and (is_by_age or break_maturity.has_maturity(item))
    ]
    named = [item for item in usable if item.mix and item.mix == settings.mix_name]
    if named and settings.prior.hold_out == "batch":
        usable = named
    if not usable:
        raise InputError([_nothing()])
    cells: dict[str, dict[float, list[Break]]] = defaultdict(lambda: defaultdict(list))
    for item in usable:
        cells[item.batch][item.age_h].append(item)
    batches = tuple(cells)
    ages = sorted({age for held in cells.values() for age in held})
    shape = (len(batches), len(ages))
    log_mean, count, maturity = np.zeros(shape), np.zeros(shape), np.full(shape, np.nan)
    middle = maturities[len([item for item in maturities if item.method == maturities[0].method]) // 2]
    for b, batch in enumerate(batches):
        for age, items in cells[batch].items():
            i = ages.index(age)
            log_mean[b, i] = np.log(fmean(item.strength_mpa for item in items))
            count[b, i] = len(items)
            maturity[b, i] = break_maturity.cell_maturity(items, (middle,))[0]
    maturity = np.where(np.isnan(maturity), np.nanmedian(maturity, axis=0), maturity)
    scatter = within_test_scatter(usable, settings.prior)
    variance = scatter_at(scatter, np.array(ages), first_h=ages[0]) ** 2
    return PriorBreaks(
        batches=batches,
        mixes=tuple(next(iter(cells[batch].values()))[0].mix for batch in batches),
        ages_h=np.array(ages),
        maturity_h=maturity,
        log_mean=log_mean,
        noise=np.where(count > 0, variance / np.maximum(count, 1.0), NOT_BROKEN),
        n_specimens=count,
        scatter=scatter,
        settings=maturities,
        standard_c=None if is_by_age else _standard_c(records, settings),
        n_breaks=len(usable),
        cautions=(caution,) if caution else (),
    )


def scatter_at(scatter: Scatter, ages_h: FloatArray, *, first_h: float) -> FloatArray:
    """Within-test CV at any ages; below the first tested one it rises as it usually does, ``(n_ages,)``."""
    younger = np.maximum(first_h / ages_h, 1.0)
    return np.asarray(scatter.cv_at(np.maximum(ages_h, first_h)) * younger**SCATTER_POWER)


def _standard_c(records: Records, settings: Settings) -> float:
    if settings.prior.standard_curing_c is not None:
        return settings.prior.standard_curing_c
    means = [float(item.temperature_c.mean()) for item in records.curing_records if item.curing == "standard"]
    return fmean(means) if means else settings.maturity.reference_c


def _nothing() -> Problem:
    return Problem(
        "break records",
        "No standard-cured break can be used, so no batch can be drawn. Give standard-cured breaks with"
        " [prior] standard_curing_c or temperature records, or take published growth with [prior] published.",
    )
