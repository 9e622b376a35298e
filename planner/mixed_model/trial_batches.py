"""Earlier batches that play the trial batches of a held-out pour.

However many trial batches are compared, none included, as many batches are kept out of the population: else the records
alone would rest on more batches than records and trial batch together, and no trial batch could ever be worth casting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.mixed_model.growth_prior import GrowthPrior
from planner.mixed_model.matrices import inverse
from planner.mixed_model.prior_batches import PriorBatches
from planner.mixed_model.reading import Belief, CellMeans, centre, information
from planner.terms.arrays import FloatArray, IntArray


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class TrialBatches:
    """What is cast before the pours."""

    specimens: IntArray  # of each trial batch at every age of the records, 0 where it is not broken, (n_ages,)
    number: int = 1  # trial batches that the pour is read by; 0: the records alone
    most: int = 1  # batches kept out of the population, as many for every number that is compared

    def __post_init__(self) -> None:
        if not 0 <= self.number <= self.most:
            raise ValueError(f"Trial batches run from 0 to the most compared, given {self.number} and {self.most}.")


def trial_sets(others: Sequence[int], most: int) -> list[tuple[int, ...]]:
    """Neighbours in their order, once round, so that every batch stands equally often at every place."""
    if most == 0:
        return [()]
    n_others = len(others)
    return [tuple(others[(first + step) % n_others] for step in range(most)) for first in range(n_others)]


@dataclass(frozen=True, slots=True, eq=False)
class TrialGain:
    """How the centre follows the log means of all trial batches."""

    by_age: FloatArray  # d centre / d log mean, (2, n_broken)
    plan_noise: FloatArray  # variance of each log mean with the schedule's counts, (n_broken,)
    cell_noise: FloatArray  # with the whole cells, (n_broken,)


def about_trials(
    prior: GrowthPrior, batches: PriorBatches, trials: Sequence[int], specimens: IntArray
) -> tuple[Belief, TrialGain | None]:
    """Centre of the batches after the trial batches, each broken as the schedule says where it has the cells."""
    cells = [_cells(batches, trial, specimens) for trial in trials]
    found = [information(prior, one) for one in cells]
    about = centre(prior, found)
    if not any(len(one.mean_mpa) for one in cells):
        return about, None
    by_age, plan_noise, cell_noise = [], [], []
    for trial, one, said in zip(trials, cells, found, strict=True):
        _, rows = prior.at(one.maturity_h)
        scatter = prior.cv_at(one.maturity_h) ** 2
        weight = 1.0 / (scatter / one.n_specimens + prior.departure_variance(one.maturity_h))
        share = inverse(np.eye(2) + said.precision @ prior.spread)
        by_age.append(about.covariance @ share @ (rows * weight[:, None]).T)
        plan_noise.append(scatter / one.n_specimens)
        cell_noise.append(scatter / batches.n_specimens[trial, _broken(batches, trial, specimens)])
    return about, TrialGain(np.concatenate(by_age, axis=1), np.concatenate(plan_noise), np.concatenate(cell_noise))


def _broken(batches: PriorBatches, trial: int, specimens: IntArray) -> IntArray:
    return np.flatnonzero((specimens > 0) & batches.is_held[trial])


def _cells(batches: PriorBatches, trial: int, specimens: IntArray) -> CellMeans:
    ages = _broken(batches, trial, specimens)
    return CellMeans(
        maturity_h=batches.maturity_h[trial, ages],
        mean_mpa=batches.mean_mpa[trial, ages],
        n_specimens=specimens[ages].astype(np.float64),
    )
