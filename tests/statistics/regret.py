"""Regret of the choosing rule on invented growth laws: ``python -m tests.statistics.regret``.

Regret is the true RMS error of what was chosen over that of the best joint choice there is, both on fresh
batches. Beside it stand the schedules people know, each with the curve the planner gave it, and the joint
choice of least variance.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from itertools import combinations

import numpy as np

from planner.choices import customary_schedule, equal_gain_schedule, log_spaced_schedule
from planner.fitting.batch_sweep import CURVE_CODES, FEWEST_AGES, sweep
from planner.pipeline import recommend
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Plan
from planner.terms.results.recommended.listed_choices import ChoiceTable
from planner.terms.schedule import Schedule
from tests.statistics import later_study
from tests.statistics.broken import Fit, all_fits, fit_of, true_rms_of_all
from tests.statistics.growth import (
    AGES_H,
    BY_AGE,
    LAWS,
    MOST_AGES,
    N_REPLICATES,
    TARGET_H,
    Law,
    fresh_broken,
    programme,
)
from tests.statistics.growth import FEWEST_AGES as FEWEST_AGES_OFFERED

FRESH_SEED = 5
RULES = ("recommended", "best")
RIVALS = ("customary", "equally spaced", "log-spaced", "equal gain", "least variance")


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """True RMS errors of every joint choice under one law."""

    schedules: tuple[Schedule, ...]
    fits: tuple[Fit, ...]
    rms: FloatArray  # (n_fits, n_schedules)

    def of(self, schedule: Schedule, fit: Fit) -> float:
        """True RMS error of one joint choice."""
        return float(self.rms[self.fits.index(fit), self.schedules.index(schedule)])

    @property
    def best(self) -> float:
        """True RMS error of the best joint choice there is."""
        return float(self.rms.min())


@dataclass(frozen=True, slots=True)
class Regret:
    """One programme: regret of everything chosen, and what was spent."""

    regret: dict[str, float]
    n_specimens: int  # of the recommended
    n_specimens_best: int
    own_ratio: float  # stated nested RMS over the true one, recommended


@cache
def truth_of(law: Law, n_fresh: int) -> Truth:
    """Score every joint choice on fresh batches."""
    schedules = tuple(
        Schedule(ages, (N_REPLICATES,) * n_ages)
        for n_ages in range(FEWEST_AGES_OFFERED, MOST_AGES + 1)
        for ages in combinations(AGES_H, n_ages)
    )
    fits = tuple(all_fits(BY_AGE))
    broken = fresh_broken(law, n_fresh, FRESH_SEED)
    return Truth(schedules, fits, true_rms_of_all(broken, schedules, fits))


def regret_of(law: Law, n_batches: int, seed: int, *, n_fresh: int) -> Regret:
    """Recommend from one drawn programme and hold what was chosen against the truth."""
    truth = truth_of(law, n_fresh)
    plan = programme(law, n_batches, seed)
    result = recommend(plan, n_draws=20, workers=1)
    chosen = {"recommended": result.recommended, "best": result.best}
    regret = {label: truth.of(choice.schedule, fit_of(choice)) / truth.best for label, choice in chosen.items()}
    for label, schedule in known_schedules(plan, result.recommended.schedule.n_ages).items():
        regret[label] = truth.of(schedule, _fit_given(result.choices, schedule)) / truth.best
    regret["least variance"] = least_variance(truth, plan) / truth.best
    own = result.honest.own_batch
    assert own is not None
    return Regret(
        regret,
        result.recommended.schedule.n_specimens,
        result.best.schedule.n_specimens,
        own.nested_rms / truth.of(result.recommended.schedule, fit_of(result.recommended)),
    )


def known_schedules(plan: Plan, n_ages: int) -> dict[str, Schedule]:
    """Customary ages, and as many ages as recommended, spaced as people would."""
    ages_h = np.array(AGES_H)
    every = np.arange(len(ages_h))
    mean_mpa = np.array(
        [np.mean([b.strength_mpa for b in plan.records.breaks if b.age_h == age_h]) for age_h in AGES_H]
    )
    positions = {
        "customary": customary_schedule(ages_h),
        # equal steps of age itself: the same walk as for strength, over the ages
        "equally spaced": equal_gain_schedule(ages_h, every, n_ages),
        "log-spaced": log_spaced_schedule(ages_h, every, n_ages),
        "equal gain": equal_gain_schedule(mean_mpa, every, n_ages),
    }
    return {label: Schedule(tuple(AGES_H[i] for i in at), (N_REPLICATES,) * len(at)) for label, at in positions.items()}


def _fit_given(table: ChoiceTable, schedule: Schedule) -> Fit:
    at = table.schedules.index(schedule)
    return Fit(table.curve[at], table.weighting[at], table.maturity[at])


def least_variance(truth: Truth, plan: Plan) -> float:
    """True RMS error of the joint choice whose specimens add the least variance on the prior batches."""
    ages_h = np.array(AGES_H)
    members = np.full((len(truth.schedules), MOST_AGES), -1, dtype=np.int16)
    for row, schedule in enumerate(truth.schedules):
        members[row, : schedule.n_ages] = np.searchsorted(ages_h, schedule.ages_h)
    n_ages = np.array([schedule.n_ages for schedule in truth.schedules], dtype=np.int64)
    variance = np.zeros(truth.rms.shape)
    for batch in plan.records.batches:
        mean_mpa = np.array([_mean(plan, batch, age_h) for age_h in AGES_H])
        for row, fit in enumerate(truth.fits):
            error, contribution = np.empty((len(n_ages), 1)), np.empty((len(n_ages), 1, MOST_AGES))
            sweep(
                CURVE_CODES[fit.curve], FEWEST_AGES[fit.curve], members, n_ages, ages_h, mean_mpa,
                _scatter(plan), fit.weighting == "relative", np.array([TARGET_H]),
                np.array([_mean(plan, batch, TARGET_H)]), error, contribution,
                np.empty(len(n_ages), dtype=np.int8), np.zeros(1, dtype=np.int64),
            )  # fmt: skip
            variance[row] += contribution[:, 0].sum(axis=1)
    return float(truth.rms.ravel()[np.argmin(variance)])


def _mean(plan: Plan, batch: str, age_h: float) -> float:
    return float(np.mean([b.strength_mpa for b in plan.records.breaks if b.batch == batch and b.age_h == age_h]))


def _scatter(plan: Plan) -> FloatArray:
    """Pooled relative scatter of replicates at each age."""
    return np.array([
        np.sqrt(np.mean([
            np.var([b.strength_mpa for b in plan.records.breaks if b.batch == batch and b.age_h == age_h], ddof=1)
            / _mean(plan, batch, age_h) ** 2
            for batch in plan.records.batches
        ]))
        for age_h in AGES_H
    ])  # fmt: skip


def study(law: Law, n_batches: int, seeds: Sequence[int], *, n_fresh: int, n_workers: int) -> list[Regret]:
    """Many programmes of one law."""
    truth_of(law, n_fresh)
    each = partial(regret_of, law, n_batches, n_fresh=n_fresh)
    if n_workers == 1:
        return [each(seed) for seed in seeds]
    with ProcessPoolExecutor(n_workers) as pool:
        return list(pool.map(each, seeds, chunksize=4))


def quantiles(results: Sequence[Regret], label: str) -> tuple[float, float]:
    """Median and 90th percentile of a regret."""
    middle, high = np.quantile([result.regret[label] for result in results], [0.5, 0.9])
    return float(middle), float(high)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser(description="Regret of the choosing rule on invented growth laws.")
    parser.add_argument("--programmes", type=int, default=60, help="programmes of each kind (60)")
    parser.add_argument("--fresh", type=int, default=2000, help="fresh batches that judge (2000)")
    parser.add_argument("--batches", type=int, nargs="*", default=[4, 8, 12], help="prior batches (4 8 12)")
    parser.add_argument("--workers", type=int, default=2, help="processes (2)")
    given = parser.parse_args(arguments)
    labels = (*RULES, *RIVALS)
    print("true RMS error over that of the best joint choice: median / 90th percentile")
    print(f"{'law':<16}{'B':>3}{'oracle':>8}" + "".join(f"{label:>16}" for label in labels), end="")
    print(f"{'specimens':>14}{'stated/true':>13}")
    for law in LAWS:
        for n_batches in given.batches:
            results = study(law, n_batches, range(given.programmes), n_fresh=given.fresh, n_workers=given.workers)
            oracle = truth_of(law, given.fresh).best
            row = "".join("{:>9.2f} / {:4.2f}".format(*quantiles(results, label)) for label in labels)
            spent = np.mean([[r.n_specimens, r.n_specimens_best] for r in results], axis=0)
            stated = np.sqrt(np.mean([r.own_ratio**2 for r in results]))
            print(f"{law.name:<16}{n_batches:>3}{100 * oracle:8.2f}{row}", end="")
            print(f"{spent[0]:7.1f}/{spent[1]:5.1f}{stated:13.2f}", flush=True)


if __name__ == "__main__":
    main()
    later_study.main([])
