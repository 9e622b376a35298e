"""How far the true scatter of specimens may lie from the one used."""

from __future__ import annotations

import numpy as np

from planner.evidence import Scatter
from planner.terms.arrays import FloatArray

# Degrees of freedom that the assumed within-test CV is worth where no replicates gave one; common practice,
# no source. A CV that the plan states is taken as it is.
DEGREES_OF_ASSUMED = 10.0


def scatter_factors(scatter: Scatter, n_populations: int, *, seed: int) -> FloatArray:
    """Draw the true within-test CV over the one used, ``(n_populations,)``; 1 where the plan states it."""
    degrees = float(scatter.n_degrees.sum())
    if scatter.source.is_stated:
        return np.ones(n_populations)
    degrees = degrees or DEGREES_OF_ASSUMED
    drawn = np.random.default_rng((seed, 8)).chisquare(degrees, n_populations)
    return np.asarray(np.sqrt(degrees / drawn))
