"""The runway's records thinned to three old batches, and the true error of what is recommended from them.

The inventing script knows the truth, so a schedule picked from thinned records can be held against one picked
from the full records on batches that neither has seen.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np

from planner.choices import spread_evenly
from planner.evidence import Cells, tabulate
from planner.evidence.cells import Views, WholeCells
from planner.maturity import maturity_at
from planner.pipeline import recommend
from planner.population import draw_cells, population_of
from planner.resampling import Joint, Scoring, joints_of
from planner.resampling.errors.sweeps import sweep_sets, variance_with
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import Budget, ChoiceLimits, MaturityGrid, Plan, Prior, Settings, Target
from planner.terms.records import Break, CuringRecord, Records
from planner.terms.schedule import Schedule

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from scenarios.draws import Programme, draw_batches, draw_records  # noqa: E402
from tests.statistics.recording import recorded  # noqa: E402

SCENARIO = "runway-panels"
KEPT_AGES_H = (24.0, 72.0, 168.0, 672.0)
KEPT_BATCHES = 3
CANDIDATES_H = (4.0, 6.0, 8.0, 12.0, 24.0, 48.0, 72.0, 168.0, 336.0, 672.0)
SITE_C = (14.0, 33.0)  # mean concrete temperature of a panel up to 6 h on cool and on warm nights, rounded out
NIGHTS = ("cool night", "warm night")


def bound_over_populations(
    square: FloatArray,
    variance: FloatArray,
    *,
    population_of_unit: IntArray,
    scatter_factor: FloatArray,
    confidence: float = 0.95,
) -> float:
    """Bound the RMS error on the mix at hand, which is one population, not known which.

    The mean squared error of each drawn population is that of one mix that the breaks allow; the bound is
    the quantile of its root over the populations. With few batches in each, their own spread widens it.

    Parameters
    ----------
    square
        Squared error of each drawn batch without scatter of specimens, ``(n_units,)``.
    variance
        What the schedule's own specimens add at the stated CV, ``(n_units,)``.
    population_of_unit, scatter_factor
        As :class:`planner.population.Drawn` holds them, ``(n_units,)``.
    """
    number = np.unique(population_of_unit, return_inverse=True)[1]
    summed = np.bincount(number, weights=square + variance * scatter_factor**2)
    means = summed / np.bincount(number)
    return float(np.sqrt(np.quantile(means, confidence)))


@dataclass(frozen=True, slots=True)
class Picked:
    """A joint choice and what its records say of it."""

    schedule: Schedule
    joint: Joint
    bound: float | None  # of its RMS error over the drawn populations; None of a program's own advice


def settings_for(*, has_target_among_ages: bool = True) -> Settings:
    """The runway's plan for 6 h, with or without 6 h among the candidates."""
    ages = tuple(age for age in CANDIDATES_H if has_target_among_ages or age != 6.0)
    return Settings(
        target=Target(ages_h=(6.0,), tolerance=0.10),
        choices=ChoiceLimits(ages_h=ages, fewest_ages=3, most_ages=7, specimens_per_age=(2, 4), least_strength_mpa=3.0),
        budget=Budget(specimens=24),
        prior=Prior(standard_curing_c=20.0),
        maturity=MaturityGrid(),
        mix_name="rapid panel mix",
        final_set_h=1.5,
        site_temperature_c=SITE_C,
    )


def records_of(programme: Programme) -> Records:
    """Rows of an invented programme as checked records."""
    breaks = tuple(
        Break(
            batch=row.batch,
            mix=row.mix,
            curing="standard" if row.curing == "standard" else "site",
            age_h=row.age_h,
            tested_h=row.age_h,
            strength_mpa=row.strength_mpa,
            geometry=row.geometry,
            placement=row.placement,
        )
        for row in programme.breaks
    )
    readings: dict[tuple[str, str, str], list[tuple[float, float]]] = defaultdict(list)
    for reading in programme.readings:
        key = (reading.batch, reading.curing, reading.placement)
        readings[key].append((reading.elapsed_h, reading.temperature_c))
    curing = tuple(
        CuringRecord(
            batch=batch,
            curing="standard" if kind == "standard" else "site",
            placement=placement,
            elapsed_h=np.array([h for h, _ in rows]),
            temperature_c=np.array([c for _, c in rows]),
        )
        for (batch, kind, placement), rows in readings.items()
    )
    return Records(breaks=breaks, curing_records=curing)


def thinned(records: Records) -> Records:
    """Three batches, broken at 1, 3, 7 and 28 d after standard curing."""
    kept = records.batches[:KEPT_BATCHES]
    return replace(
        records,
        breaks=tuple(
            item
            for item in records.breaks
            if item.batch in kept and item.curing == "standard" and item.age_h in KEPT_AGES_H
        ),
        curing_records=tuple(
            item for item in records.curing_records if item.batch in kept and item.curing == "standard"
        ),
    )


def picked_from_full(records: Records, settings: Settings) -> Picked:
    """Lowest mean loss on the measured batches."""
    schedule, joint, *_ = _best(tabulate(records, settings), settings, factor=2.0)
    return Picked(schedule, joint, None)


def picked_from_thinned(records: Records, settings: Settings, *, seed: int, n_batches: int = 150) -> Picked:
    """Lowest mean loss on batches drawn from the thinned records; their means are true, so v counts once."""
    drawn = draw_cells(population_of(records, settings, seed=seed), settings, n_batches=n_batches, seed=seed)
    schedule, joint, square, variance = _best(drawn.cells, settings, factor=1.0)
    bound = bound_over_populations(
        square,
        variance,
        population_of_unit=drawn.population_of_unit,
        scatter_factor=drawn.scatter_factor,
    )
    return Picked(schedule, joint, bound)


@dataclass(frozen=True, slots=True)
class Repeat:
    """One invented programme, advised from its thinned and from its full records by the program itself."""

    rms_full: float  # true error of what the full records recommend
    rms_thinned: float

    @property
    def ratio(self) -> float:
        return self.rms_thinned / self.rms_full


def recommended(records: Records, settings: Settings) -> Picked:
    """What the program recommends, four specimens an age so that many programmes can be advised."""
    few = replace(settings, choices=replace(settings.choices, specimens_per_age=(4, 4), most_ages=6))
    advice = recommend(Plan(settings=few, records=records), n_draws=40, workers=1)
    choice = advice.recommended
    joint = Joint(choice.curve, choice.weighting, 0, choice.maturity)
    return Picked(choice.schedule, joint, None)


def repeated(number: int, *, has_target_among_ages: bool) -> Repeat:
    """Advise one programme of nine batches twice, and judge both pieces of advice on the same fresh batches."""
    records = records_of(draw_records(SCENARIO, 1000 + number, 9))
    settings = settings_for(has_target_among_ages=has_target_among_ages)
    full = recommended(records, replace(settings, site_temperature_c=None))  # its companions are its site
    thin = recommended(thinned(records), settings)
    seed = 50_000 + number
    return Repeat(true_rms(full, seed=seed), true_rms(thin, seed=seed))


def true_rms(picked: Picked, *, seed: int, n_batches: int = 300) -> float:
    """RMS error at 6 h on both nights over fresh batches calibrated by the pick, specimens' scatter included."""
    fresh = draw_batches(SCENARIO, n_batches, seed)
    schedule, setting = picked.schedule, picked.joint.maturity
    ages = np.array(schedule.ages_h)
    means = np.stack(
        [
            fresh.specimens_mpa("standard", [age], count, repeat=number)[:, 0, :].mean(axis=1)
            for number, (age, count) in enumerate(zip(schedule.ages_h, schedule.specimens, strict=True))
        ],
        axis=1,
    )
    truth = np.stack([fresh.true_strength(night, [6.0])[:, 0] for night in NIGHTS], axis=1)

    def maturity(condition: str, at_h: FloatArray) -> FloatArray:
        times_h, read_c = fresh.readings_c(condition)
        return np.array([maturity_at(at_h, times_h, row, setting, continued_c=20.0) for row in read_c])

    at_nights = np.concatenate([maturity(night, np.array([6.0])) for night in NIGHTS], axis=1)
    settings = settings_for()
    pattern = tabulate(records_of(draw_records(SCENARIO, 1, 2)), settings)
    n_nights = len(NIGHTS)
    n_specimens = np.tile(np.array(schedule.specimens, dtype=np.float64), (n_batches, 1))
    cells = replace(
        pattern,
        ages_h=ages,
        is_candidate=np.ones(len(ages), dtype=bool),
        settings=(setting,),
        unit_names=tuple(str(i) for i in range(n_batches)),
        cv=np.full(len(ages), 0.05),
        views=Views(
            whole=WholeCells(means, n_specimens, maturity("standard", ages)[None]),
            unit=np.arange(n_batches),
            batch=tuple(str(i) for i in range(n_batches)),
            mix=("",) * n_batches,
            mean_mpa=means,
            n_specimens=n_specimens,
            maturity_h=maturity("standard", ages)[None],
        ),
        checks=replace(
            pattern.checks,
            view=np.repeat(np.arange(n_batches), n_nights),
            target=np.zeros(n_batches * n_nights, dtype=np.int64),
            truth_mpa=truth.ravel(),
            maturity_h=at_nights.reshape(1, -1),
        ),
    )
    every = np.arange(len(ages))[None, :]
    error = sweep_sets(cells, every, np.array([len(ages)]), replace(picked.joint, setting=0)).error
    return float(np.sqrt(np.mean(error**2)))


def _age_sets(cells: Cells, settings: Settings) -> tuple[IntArray, IntArray, IntArray]:
    """Every allowed set of ages with the budget spread evenly: members, number of ages, specimens."""
    limits = settings.choices
    offered = np.flatnonzero(cells.is_candidate & (cells.typical_mpa() >= limits.least_strength_mpa))
    most = limits.most_ages
    rows = [
        (ages, spread_evenly(len(ages), settings.budget.specimens, limits.specimens_per_age))
        for n_ages in range(limits.fewest_ages, most + 1)
        for ages in combinations([int(i) for i in offered], n_ages)
    ]
    members = np.full((len(rows), most), -1, dtype=np.int64)
    specimens = np.zeros((len(rows), most), dtype=np.int64)
    for row, (ages, counts) in enumerate(rows):
        assert counts is not None
        members[row, : len(ages)], specimens[row, : len(ages)] = ages, counts
    return members, np.array([len(ages) for ages, _ in rows]), specimens


def _best(cells: Cells, settings: Settings, *, factor: float) -> tuple[Schedule, Joint, FloatArray, FloatArray]:
    """Schedule and joint of the lowest mean of ``e^2 + factor v``, with ``e^2`` and ``v`` of each unit."""
    scoring = Scoring.of(cells, settings.target)
    members, n_ages, specimens = _age_sets(cells, settings)
    best_score, best = np.inf, None
    for joint in joints_of(settings.curves, cells.settings):
        swept = sweep_sets(cells, members, n_ages, joint)
        variance = variance_with(swept.contribution, specimens)
        score = scoring.by_unit(swept.error**2 + factor * variance).mean(axis=1)
        at = int(np.nanargmin(score))
        if score[at] < best_score:
            best_score = float(score[at])
            best = (at, joint, scoring.by_unit(swept.error[at] ** 2), scoring.by_unit(variance[at]))
    assert best is not None
    at, joint, square, added = best
    n = int(n_ages[at])
    ages = tuple(float(age) for age in cells.ages_h[members[at, :n]])
    return Schedule(ages, tuple(int(count) for count in specimens[at, :n])), joint, square, added


def main(n_repeats: int = 50) -> None:
    """Print the ratio of true errors, with and without the target among the ages."""
    for has_target_among_ages in (True, False):
        found = [repeated(k, has_target_among_ages=has_target_among_ages) for k in range(n_repeats)]
        middle, high = np.quantile([item.ratio for item in found], [0.5, 0.9])
        print(
            f"6 h {'among' if has_target_among_ages else 'not among'} the candidates, {n_repeats} repeats: ratio "
            f"{middle:.2f} at the median, {high:.2f} at the 90th percentile."
        )


if __name__ == "__main__":
    with recorded(" ".join(["python -m tests.statistics.thinned_runway", *sys.argv[1:]])):
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
