"""What a set of break records holds and what it can answer, before anything is computed with it.

Use it to look at records; the verdict never reads it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from planner.evidence.reached_strength import reach
from planner.terms.plan.precision import Precision, stated_precision
from planner.terms.records import Break, CuringRecord, Records

KELVIN = 273.15
Q_SPAN_K = (4000.0, 6000.0)  # the usual range of Q; constants matter where its ends tell different ages
TELLING_DIFFERENCE = 0.10  # of equivalent age between the ends of that range; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """The replicates of one batch and curing at one age."""

    batch: str
    curing: str
    age_h: float
    n_specimens: int
    mean_mpa: float
    cv: float | None  # relative; None for a single specimen


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureSpan:
    """What one temperature record covers."""

    curing: str
    placement: str
    n_readings: int
    first_h: float
    last_h: float
    coolest_c: float
    warmest_c: float
    mean_c: float  # weighted by time


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchStory:
    """One batch: its breaks, its ages, its temperatures."""

    batch: str
    mix: str
    geometries: tuple[str, ...]
    n_breaks: int
    cells: tuple[Cell, ...]  # by curing, then age
    temperatures: tuple[TemperatureSpan, ...]
    missing_ages_h: tuple[float, ...]  # standard ages that most other batches have


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeScatter:
    """Pooled scatter of replicates at one age."""

    age_h: float
    n_cells: int
    n_specimens: int
    cv: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetStory:
    """Against what a target age can be checked."""

    age_h: float
    strength_mpa: float | None  # that is waited for; None: the age is asked
    with_site: tuple[str, ...]  # batches with companions cured beside the work
    with_standard: tuple[str, ...]  # batches with standard specimens only
    without: tuple[str, ...]  # batches with neither


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstantsStory:
    """Whether the temperatures can tell one maturity constant from another."""

    n_batches: int  # batches with records in two or more curings
    widest_c: float  # largest difference of mean temperature inside one batch [C]
    age_difference: float  # relative difference of equivalent age that the usual Q make there
    is_telling: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """The whole set."""

    n_breaks: int
    n_voided: int
    voided: tuple[tuple[str, str], ...]  # (which break, reason)
    flagged: tuple[str, ...]  # what reading found odd
    mixes: tuple[str, ...]
    ages_h: tuple[float, ...]
    batches: tuple[BatchStory, ...]
    scatter: tuple[AgeScatter, ...]
    precision_cv: float | None  # within-test CV that a standard states for this geometry
    precision_source: str  # the standard, "" where none states any
    targets: tuple[TargetStory, ...]
    constants: ConstantsStory


def tell_story(
    records: Records, *, targets: Sequence[tuple[float, float | None]] = (), standard_curing_c: float | None = None
) -> Story:
    """Count and describe what the records hold.

    Parameters
    ----------
    records
        Checked records of earlier batches.
    targets
        Ages that are to be predicted [h], each with the strength that is waited for, or None.
    standard_curing_c
        Stated temperature of standard curing [C]; it counts where a batch has no record of it.
    """
    cells = _cells(records.breaks)
    common = _common_ages(cells, n_batches=len(records.batches))
    batches = tuple(_batch_story(batch, records, cells, common) for batch in records.batches)
    stated = _precision(records.breaks)
    return Story(
        n_breaks=len(records.breaks),
        n_voided=len(records.voided),
        voided=tuple((_name(item), item.void) for item in records.voided),
        flagged=tuple(f"{caution.code}: {caution.text}" for caution in records.cautions),
        mixes=tuple(dict.fromkeys(item.mix for item in records.breaks if item.mix)),
        ages_h=tuple(sorted({cell.age_h for cell in cells})),
        batches=batches,
        scatter=_scatter(_cells(records.breaks, is_by_placement=True)),
        precision_cv=stated.within_test_cv if stated else None,
        precision_source=stated.source if stated else "",
        targets=tuple(
            _target_story(age, records.batches, cells) if strength is None else _wait_story(age, strength, records)
            for age, strength in targets
        ),
        constants=_constants(batches, standard_curing_c),
    )


def _cells(breaks: Iterable[Break], *, is_by_placement: bool = False) -> tuple[Cell, ...]:
    """Means and scatter; specimens of two placements or geometries are no replicates of each other."""
    strengths: dict[tuple[str, str, float, str], list[float]] = defaultdict(list)
    for item in breaks:
        placement = f"{item.placement} {item.geometry}" if is_by_placement else ""
        strengths[item.batch, item.curing, item.age_h, placement].append(item.strength_mpa)
    return tuple(
        Cell(
            batch=batch,
            curing=curing,
            age_h=age_h,
            n_specimens=len(values),
            mean_mpa=float(np.mean(values)),
            cv=float(np.std(values, ddof=1) / np.mean(values)) if len(values) > 1 else None,
        )
        for (batch, curing, age_h, _placement), values in sorted(strengths.items())
    )


def _common_ages(cells: Iterable[Cell], *, n_batches: int) -> frozenset[float]:
    """Standard ages that more than half of the batches were broken at: missing there, they are a hole."""
    holders: dict[float, set[str]] = defaultdict(set)
    for cell in cells:
        if cell.curing == "standard":
            holders[cell.age_h].add(cell.batch)
    return frozenset(age for age, batches in holders.items() if 2 * len(batches) > n_batches)


def _batch_story(batch: str, records: Records, cells: Iterable[Cell], common: frozenset[float]) -> BatchStory:
    breaks = [item for item in records.breaks if item.batch == batch]
    own = tuple(cell for cell in cells if cell.batch == batch)
    present = {cell.age_h for cell in own if cell.curing == "standard"}
    return BatchStory(
        batch=batch,
        mix=breaks[0].mix,
        geometries=tuple(dict.fromkeys(item.geometry for item in breaks if item.geometry)),
        n_breaks=len(breaks),
        cells=own,
        temperatures=tuple(_span(record) for record in records.curing_records if record.batch == batch),
        missing_ages_h=tuple(sorted(common - present)),
    )


def _span(record: CuringRecord) -> TemperatureSpan:
    hours, degrees = record.elapsed_h, record.temperature_c
    length = float(hours[-1] - hours[0])
    mean = float(np.trapezoid(degrees, hours) / length) if length > 0 else float(degrees.mean())
    return TemperatureSpan(
        curing=record.curing,
        placement=record.placement,
        n_readings=len(hours),
        first_h=float(hours[0]),
        last_h=float(hours[-1]),
        coolest_c=float(degrees.min()),
        warmest_c=float(degrees.max()),
        mean_c=mean,
    )


def _scatter(cells: Iterable[Cell]) -> tuple[AgeScatter, ...]:
    """Pool the squared scatter of replicates by age, each cell by its degrees of freedom."""
    by_age: dict[float, list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.cv is not None:
            by_age[cell.age_h].append(cell)
    return tuple(
        AgeScatter(
            age_h=age,
            n_cells=len(found),
            n_specimens=sum(cell.n_specimens for cell in found),
            cv=math.sqrt(
                sum((cell.n_specimens - 1) * (cell.cv or 0.0) ** 2 for cell in found)
                / sum(cell.n_specimens - 1 for cell in found)
            ),
        )
        for age, found in sorted(by_age.items())
    )


def _precision(breaks: Iterable[Break]) -> Precision | None:
    """The precision stated for the geometry, where all breaks are of one that a statement covers."""
    geometries = {item.geometry for item in breaks}
    return stated_precision(geometries.pop()) if len(geometries) == 1 else None


def _target_story(age_h: float, batches: Iterable[str], cells: Iterable[Cell]) -> TargetStory:
    at_age = [cell for cell in cells if math.isclose(cell.age_h, age_h)]
    site = {cell.batch for cell in at_age if cell.curing != "standard"}
    standard = {cell.batch for cell in at_age if cell.curing == "standard"} - site
    return TargetStory(
        age_h=age_h,
        strength_mpa=None,
        with_site=tuple(batch for batch in batches if batch in site),
        with_standard=tuple(batch for batch in batches if batch in standard),
        without=tuple(batch for batch in batches if batch not in site | standard),
    )


def _wait_story(age_h: float, strength_mpa: float, records: Records) -> TargetStory:
    """A strength is checked between the two groups of a batch that it lies between."""
    has_site = {item.batch for item in records.breaks if item.curing == "site"}
    found = reach(records, strength_mpa)
    return TargetStory(
        age_h=age_h,
        strength_mpa=strength_mpa,
        with_site=tuple(batch for batch in found.reaching if batch in has_site),
        with_standard=tuple(batch for batch in found.reaching if batch not in has_site),
        without=found.others,
    )


def _constants(batches: Iterable[BatchStory], standard_curing_c: float | None) -> ConstantsStory:
    """The same concrete at two temperatures is what tells constants apart; how far apart are they?"""
    compared = [means for batch in batches if len(means := _means_c(batch, standard_curing_c)) > 1]
    pairs = [(min(means), max(means)) for means in compared]
    coolest, warmest = max(pairs, key=lambda pair: pair[1] - pair[0], default=(20.0, 20.0))
    exponent = (Q_SPAN_K[1] - Q_SPAN_K[0]) * (1.0 / (coolest + KELVIN) - 1.0 / (warmest + KELVIN))
    difference = math.expm1(exponent)
    return ConstantsStory(
        n_batches=len(compared),
        widest_c=warmest - coolest,
        age_difference=difference,
        is_telling=difference >= TELLING_DIFFERENCE,
    )


def _means_c(batch: BatchStory, standard_curing_c: float | None) -> list[float]:
    """Mean temperatures that the specimens of a batch lay at, the stated one where no record says it [C]."""
    means = [span.mean_c for span in batch.temperatures]
    is_stated = standard_curing_c is not None and all(span.curing != "standard" for span in batch.temperatures)
    if is_stated and standard_curing_c is not None and any(cell.curing == "standard" for cell in batch.cells):
        means.append(standard_curing_c)
    return means


def _name(item: Break) -> str:
    where = f"batch {item.batch}, {item.curing}, {item.age_h:g} h"
    label = f", specimen {item.specimen}" if item.specimen else ""
    return where + label + (f", row {item.row}" if item.row is not None else "")
