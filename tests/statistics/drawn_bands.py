"""Whether batches that were cast look like batches that are drawn: each batch against a population without it."""

from __future__ import annotations

import numpy as np

from planner.population.drawing import draw_strengths
from planner.population.population_model import population_from
from planner.population.prior_breaks import PriorBreaks
from planner.terms.plan.settings import Settings

BAND = (0.05, 0.95)
_N_DRAWN = 400


def means_inside(
    shown: PriorBreaks, held_out: PriorBreaks, settings: Settings, *, seed: int
) -> tuple[tuple[float, bool], ...]:
    """Each break mean of the held-out batches as (age [h], whether it lies inside the band).

    The band at an age is that of a new batch with the scatter of as many specimens as were broken.
    """
    population = population_from(shown, settings, seed=seed)
    true_mpa = draw_strengths(population, held_out.ages_h, n_batches=_N_DRAWN, seed=seed)
    generator = np.random.default_rng((seed, 9))
    found = []
    for b, i in zip(*np.nonzero(held_out.held), strict=True):
        noise = np.sqrt(held_out.noise[b, i]) * generator.standard_normal(_N_DRAWN)
        low, high = np.quantile(np.log(true_mpa[:, i]) + noise, BAND)
        found.append((float(held_out.ages_h[i]), bool(low <= held_out.log_mean[b, i] <= high)))
    return tuple(found)
