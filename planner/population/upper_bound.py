"""Upper bound of the error over what is not known of the population."""

from __future__ import annotations

import numpy as np

from planner.evidence import Scatter
from planner.terms.arrays import FloatArray, IntArray

# Degrees of freedom that the assumed within-test CV is worth where no replicates gave one; common practice,
# no source. A CV that the plan states is taken as it is.
DEGREES_OF_ASSUMED = 10.0


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
    means = population_means(square + variance * scatter_factor**2, population_of_unit)
    return float(np.sqrt(np.quantile(means, confidence)))


def population_means(values: FloatArray, population_of_unit: IntArray) -> FloatArray:
    """Mean over the units of each population, ``(n_populations,)``, in the order of their numbers."""
    number = np.unique(population_of_unit, return_inverse=True)[1]
    return np.asarray(np.bincount(number, weights=values) / np.bincount(number))


def scatter_factors(scatter: Scatter, n_populations: int, *, seed: int) -> FloatArray:
    """Draw the true within-test CV over the one used, ``(n_populations,)``; 1 where the plan states it."""
    degrees = float(scatter.n_degrees.sum())
    if scatter.source.is_stated:
        return np.ones(n_populations)
    degrees = degrees or DEGREES_OF_ASSUMED
    drawn = np.random.default_rng((seed, 8)).chisquare(degrees, n_populations)
    return np.asarray(np.sqrt(degrees / drawn))
