"""Whether batches that were cast look like batches that are drawn: each batch against a population without it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.population.population_model import population_from
from planner.terms.records import Records
from planner.terms.settings import Settings

from .drawing import draw_strengths
from .prior_breaks import PriorBreaks, prior_breaks

BAND = (0.05, 0.95)
_N_DRAWN = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictiveCheck:
    """How often means of held-out batches fell inside the drawn 90 % bands."""

    n_means: int
    n_inside: int
    outside: tuple[tuple[str, float], ...]  # (batch, age [h]) of the others

    @property
    def share(self) -> float:
        return self.n_inside / self.n_means if self.n_means else float("nan")


def predictive_check(records: Records, settings: Settings, *, seed: int = 1) -> PredictiveCheck:
    """Hold each batch out in turn and see where its break means fall.

    The band at an age is that of a new batch with the scatter of as many specimens as were broken.

    Raises
    ------
    InputError
        Where no standard-cured break can be used.
    """
    breaks = prior_breaks(records, settings)
    outside: list[tuple[str, float]] = []
    n_means = 0
    n_batches = len(breaks.batches)
    for held_out in range(n_batches if n_batches > 1 else 0):
        others = breaks.only_batches(b for b in range(n_batches) if b != held_out)
        is_inside = means_inside(others, breaks.only_batches([held_out]), settings, seed=seed)
        n_means += len(is_inside)
        outside += [(breaks.batches[held_out], age) for age, inside in is_inside if not inside]
    return PredictiveCheck(n_means=n_means, n_inside=n_means - len(outside), outside=tuple(outside))


def means_inside(
    shown: PriorBreaks, held_out: PriorBreaks, settings: Settings, *, seed: int
) -> tuple[tuple[float, bool], ...]:
    """Each break mean of the held-out batches as (age [h], whether it lies inside the band)."""
    population = population_from(shown, settings, seed=seed)
    true_mpa = draw_strengths(population, held_out.ages_h, n_batches=_N_DRAWN, seed=seed)
    generator = np.random.default_rng((seed, 9))
    found = []
    for b, i in zip(*np.nonzero(held_out.held), strict=True):
        noise = np.sqrt(held_out.noise[b, i]) * generator.standard_normal(_N_DRAWN)
        low, high = np.quantile(np.log(true_mpa[:, i]) + noise, BAND)
        found.append((float(held_out.ages_h[i]), bool(low <= held_out.log_mean[b, i] <= high)))
    return tuple(found)
