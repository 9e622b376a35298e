"""The mean of a new batch's first breaks beside the earlier batches; what is the same for every mean is found once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.mixed_model import CellMeans
from planner.mixed_model.stranger import StrangerTest
from planner.terms.arrays import FloatArray
from planner.verdict.answers.continuing.first_breaks import EarlierBatches


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FirstMean:
    """One age at which a new batch is broken first, at its typical maturity.

    The log mean of a batch like the earlier ones lies about `middle` with the spread of batches, departures and the
    scatter of its specimens.
    """

    earlier: EarlierBatches
    column: int  # of the age among those of the cells
    middle: float  # expected log mean
    sd: float  # of the log mean
    expected: float  # log strength of the mean curve
    variance: FloatArray  # of a mean's distance from that of each earlier batch, (n_batches,)
    as_expected: StrangerTest  # of a batch with the expected mean

    @classmethod
    def of(cls, earlier: EarlierBatches, column: int, n_specimens: int) -> FirstMean:
        prior, about, maturity = earlier.prior, earlier.about, typical_maturity_h(earlier, column)
        expected, rows = prior.at(maturity)
        scatter = float(prior.cv_at(maturity)[0] ** 2 / n_specimens)
        spread = float((rows @ (about.covariance + prior.spread) @ rows.T)[0, 0])
        noise = scatter + float(prior.departure_variance(maturity)[0])
        middle = float(expected[0] + (rows @ about.mean)[0])
        return cls(
            earlier=earlier,
            column=column,
            middle=middle,
            sd=float(np.sqrt(spread + noise)),
            expected=float(expected[0]),
            variance=earlier.distance_variance(column, scatter),
            as_expected=earlier.stranger(
                CellMeans(
                    maturity_h=maturity,
                    mean_mpa=np.exp(np.array([middle])),
                    n_specimens=np.array([float(n_specimens)]),
                )
            ),
        )

    @property
    def noticed_deficit(self) -> float:
        """Strength that is missing, relative, where the stranger test would speak 9 times in 10."""
        return self.as_expected.noticed_deficit

    def is_stranger(self, mean_mpa: float) -> bool:
        """Whether a batch with this mean is shown to be none of them, as `judge_stranger` has it."""
        distance = ((np.log(mean_mpa) - self.middle) / self.sd) ** 2
        return self.as_expected.is_stranger is not None and bool(distance > self.as_expected.limit)

    def weights(self, mean_mpa: float) -> FloatArray:
        """Share with which each earlier batch counts beside this mean, summing to 1, ``(n_batches,)``."""
        own = float(np.log(mean_mpa)) - self.expected
        return self.earlier.shares(self.earlier.distance(self.column, own, self.variance))


def typical_maturity_h(earlier: EarlierBatches, column: int) -> FloatArray:
    """Typical maturity at an age, ``(1,)``."""
    held = earlier.cells.is_held[:, column]
    return np.asarray(np.exp([earlier.cells.log_maturity[held, column].mean()]))
