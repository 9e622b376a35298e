"""What the curves with a prior have learnt from the earlier batches, any units left out.

A prior never sees the unit it is judged on. In the selection without a unit it does not see that one either, and
where the curve of one batch is read on another, neither of the two. So it is learnt anew for every set of units
left out, once each, when it is first asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from planner.evidence import Cells
from planner.evidence.cells import Views
from planner.mixed_model import (
    GrowthPrior,
    PriorBatches,
    ShapePrior,
    estimate_growth_prior,
    estimate_shape_prior,
)
from planner.mixed_model.matrices import inverse
from planner.terms.arrays import FloatArray

MOST_LEARNT_FROM = 40  # units; of more, an even choice: what is learnt is then known well enough
FEWEST_POPULATION, FEWEST_SHAPE = 2, 3  # batches that are left to learn from


@dataclass(frozen=True, slots=True, eq=False)
class PopulationNumbers:
    """A population prior as the loops want it."""

    knots: FloatArray  # log maturity, log strength, slope, variance left, (4, n_knots)
    own: FloatArray  # variances of a batch's (alpha, beta), (2,)

    @classmethod
    def of(cls, prior: GrowthPrior) -> PopulationNumbers:
        """Read them off the prior."""
        curve = prior.curve
        left = prior.departure_sd**2 + prior.knot_noise
        return cls(
            np.stack([curve.log_maturity, curve.log_mpa, curve.slope, left]),
            np.diag(prior.spread) * (1.0 + 1.0 / prior.n_batches),
        )


@dataclass(frozen=True, slots=True, eq=False)
class ShapeNumbers:
    """A shape prior as the loops want it."""

    center: FloatArray  # (2,)
    penalty: FloatArray  # (2, 2)
    scatter: float

    @classmethod
    def of(cls, prior: ShapePrior) -> ShapeNumbers:
        """Read them off the prior; the mean of few mixes is not known for sure, which widens the pull."""
        return cls(prior.mean, inverse(prior.covariance * (1.0 + 1.0 / prior.n_mixes)), prior.scatter)


@dataclass(frozen=True, slots=True)
class Teaching:
    """All that is learnt from: cells that differ in their checks alone share what they teach."""

    views: Views  # compared by identity
    cv: tuple[float, ...]  # (n_ages,)
    n_units: int

    @classmethod
    def of(cls, cells: Cells) -> Teaching:
        """What these cells teach."""
        return cls(cells.views, tuple(cells.cv.tolist()), cells.n_units)


def population_without(cells: Cells, setting: int, left_out: frozenset[int]) -> PopulationNumbers | None:
    """The population prior of the other units; None where they cannot teach one."""
    return _population(Teaching.of(cells), setting, left_out)


@lru_cache(maxsize=4096)
def _population(teaching: Teaching, setting: int, left_out: frozenset[int]) -> PopulationNumbers | None:
    batches = learning_batches(teaching, setting, left_out)
    if batches is None or batches.n_batches < FEWEST_POPULATION:
        return None
    try:
        return PopulationNumbers.of(estimate_growth_prior(batches))
    except ValueError:  # all batches at one maturity: they have no mean curve
        return None


def shape_without(cells: Cells, setting: int, left_out: frozenset[int]) -> ShapeNumbers | None:
    """The shape prior of the other units; None where they cannot teach one."""
    return _shape(Teaching.of(cells), setting, left_out)


@lru_cache(maxsize=4096)
def _shape(teaching: Teaching, setting: int, left_out: frozenset[int]) -> ShapeNumbers | None:
    batches = learning_batches(teaching, setting, left_out)
    if batches is None or batches.n_batches < FEWEST_SHAPE:
        return None
    return ShapeNumbers.of(estimate_shape_prior(batches.maturity_h, batches.mean_mpa, batches.n_specimens))


def learning_batches(teaching: Teaching, setting: int, left_out: frozenset[int]) -> PriorBatches | None:
    """Whole standard-cured cells of every batch that is not of a unit left out; None without one."""
    views, units = teaching.views, np.arange(teaching.n_units)
    if len(units) > MOST_LEARNT_FROM:
        units = units[np.unique(np.linspace(0, len(units) - 1, MOST_LEARNT_FROM).astype(np.int64))]
    is_taught = np.isin(views.unit, units) & ~np.isin(views.unit, list(left_out))
    first = {views.batch[v]: v for v in np.flatnonzero(is_taught)[::-1].tolist()}
    if not first:
        return None
    whole = views.whole.take(np.array(sorted(first.values()), dtype=np.int64))
    maturity_h = whole.maturity_h[setting]
    is_held = (whole.n_specimens > 0) & (whole.mean_mpa > 0) & (maturity_h > 0)
    rows, columns = is_held.any(axis=1), is_held.any(axis=0)
    if not rows.any():
        return None
    held = is_held[rows][:, columns]
    return PriorBatches(
        mean_mpa=np.where(held, whole.mean_mpa[rows][:, columns], 0.0),
        n_specimens=np.where(held, whole.n_specimens[rows][:, columns], 0.0),
        maturity_h=np.where(held, maturity_h[rows][:, columns], 0.0),
        cv=np.array(teaching.cv)[columns],
    )
