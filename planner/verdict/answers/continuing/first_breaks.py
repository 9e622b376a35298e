"""How like each earlier batch the first breaks of a new batch are.

Log means are compared as residuals about the mean curve of the earlier batches, so that maturities need not be equal.
An earlier batch counts by ``q_b ~ exp(-d_b^2 / 2)``, d the standardised distance of the two sets of residuals; half of
the weight stays with all batches alike, so that a chance likeness, or a stranger, cannot throw the plan over. The level
is not profiled out: of a single early break nothing would be left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.mixed_model import (
    Belief,
    CellMeans,
    GrowthPrior,
    PriorBatches,
    centre,
    estimate_growth_prior,
    judge_stranger,
)
from planner.mixed_model.stranger import StrangerTest
from planner.terms.arrays import FloatArray

ALIKE = 0.5  # share of the weight that all earlier batches keep whatever is broken


@dataclass(frozen=True, slots=True, eq=False)
class EarlierBatches:
    """Cells of the earlier batches under the recommended maturity setting, and their mean curve."""

    names: tuple[str, ...]
    ages_h: FloatArray  # of the cells, (n_ages,)
    cells: PriorBatches
    prior: GrowthPrior
    about: Belief  # where batches of this mix lie
    residual: FloatArray  # log means about the mean curve, 0 where none was broken, (n_batches, n_ages)

    @classmethod
    def of(cls, names: tuple[str, ...], ages_h: FloatArray, cells: PriorBatches) -> EarlierBatches:
        prior = estimate_growth_prior(cells)
        expected, _ = prior.at(np.where(cells.is_held, cells.maturity_h, 1.0))
        residual = np.where(cells.is_held, cells.log_mean - expected, 0.0)
        return cls(names, ages_h, cells, prior, centre(prior), residual)

    def without(self, batch: int) -> EarlierBatches:
        """The others, and the ages that they hold."""
        others = [b for b in range(len(self.names)) if b != batch]
        is_kept = self.cells.is_held[others].any(axis=0)
        return EarlierBatches.of(
            tuple(self.names[b] for b in others), self.ages_h[is_kept], self.cells.without([batch])
        )

    def column_of(self, age_h: float) -> int | None:
        """Place of an age among those of the cells; None where no batch was broken then."""
        found = np.flatnonzero(np.isclose(self.ages_h, age_h))
        return int(found[0]) if found.size else None

    def means_of(self, batch: int, age_h: float, n_specimens: int) -> CellMeans | None:
        """One cell of one of them as so many specimens; None where it was not broken then."""
        column = self.column_of(age_h)
        if column is None or not self.cells.is_held[batch, column]:
            return None
        return CellMeans(
            maturity_h=self.cells.maturity_h[batch, [column]],
            mean_mpa=self.cells.mean_mpa[batch, [column]],
            n_specimens=np.array([float(n_specimens)]),
        )

    def stranger(self, broken: CellMeans) -> StrangerTest:
        """Whether a batch with these means can be one of them."""
        return judge_stranger(self.prior, self.about, broken)

    def weights(self, broken: CellMeans, ages_h: Sequence[float]) -> FloatArray:
        """Share with which each earlier batch counts, summing to 1, ``(n_batches,)``.

        Parameters
        ----------
        broken
            Means of the new batch.
        ages_h
            Age of each of them; one that no earlier batch was broken at tells nothing here.
        """
        distance = np.zeros(self.cells.n_batches)
        expected, _ = self.prior.at(broken.maturity_h)
        own = np.log(broken.mean_mpa) - expected
        scatter = self.prior.cv_at(broken.maturity_h) ** 2 / broken.n_specimens
        for place, age_h in enumerate(ages_h):
            column = self.column_of(age_h)
            if column is not None:
                distance += self.distance(column, own[place], self.distance_variance(column, scatter[place]))
        return self.shares(distance)

    def distance_variance(self, column: int, own: float) -> FloatArray:
        """Variance of the difference between a new batch's log mean and that of each earlier one, ``(n_batches,)``.

        Parameters
        ----------
        own
            Variance of the new log mean by the scatter of its specimens.
        """
        return np.asarray(own + self.cells.noise[:, column] + 2.0 * self.prior.departure_sd**2)

    def distance(self, column: int, residual: float, variance: FloatArray) -> FloatArray:
        """Squared standardised distance of a new log mean, about the mean curve, from every batch, ``(n_batches,)``."""
        # a batch without this age is neither like nor unlike: its squared distance is what a like one has
        held = self.cells.is_held[:, column]
        return np.where(held, (residual - self.residual[:, column]) ** 2 / variance, 1.0)

    def shares(self, distance: FloatArray) -> FloatArray:
        """Share with which each earlier batch counts at these squared distances, summing to 1, ``(n_batches,)``."""
        like = np.exp(-0.5 * (distance - distance.min()))
        return np.asarray((1.0 - ALIKE) * like / like.sum() + ALIKE / self.cells.n_batches)
