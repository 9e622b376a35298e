"""The model that an issued curve carries, ready to read pours: records, trial batches and early breaks together."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.maturity.inside_records import is_inside
from planner.mixed_model import Belief, CellMeans, GrowthPrior, Reading, centre, information, pour, read
from planner.mixed_model.carried_prior import prior_of
from planner.terms.results.after_casting.pour_model import PourModel, TrialMean


@dataclass(frozen=True, slots=True, eq=False)
class PourReader:
    """The model in numbers: mean curve, where batches lie about, how much wider pours were than stated."""

    model: PourModel
    prior: GrowthPrior
    about: Belief

    @classmethod
    def of(cls, model: PourModel) -> PourReader:
        prior = prior_of(model)
        trials = () if model.reading == "records" else model.trials
        return cls(model, prior, centre(prior, [information(prior, _cells(trial)) for trial in trials]))

    def holds(self, maturity_h: float) -> bool:
        """Whether the earlier batches were broken about this maturity."""
        return is_inside(maturity_h, self.model.span_h)

    def read(self, early: CellMeans, maturity_h: float) -> Reading:
        """Reading of a pour at one maturity, as wide as held-out pours were."""
        reading = read(self.prior, pour(self.prior, self.about, information(self.prior, early)), [maturity_h])
        return replace(reading, log_sd=reading.log_sd * np.sqrt(self.model.widening))

    def expected_mpa(self, maturity_h: float) -> float:
        """Strength [MPa] that an early mean is expected at: a batch like the earlier ones, before it is broken."""
        return float(read(self.prior, pour(self.prior, self.about), [maturity_h]).strength_mpa[0])


def _cells(trial: tuple[TrialMean, ...]) -> CellMeans:
    return CellMeans(
        maturity_h=np.array([mean.maturity_h for mean in trial]),
        mean_mpa=np.array([mean.mean_mpa for mean in trial]),
        n_specimens=np.array([float(mean.n_specimens) for mean in trial]),
    )
