"""Whether the early breaks of a pour can be of this mix at all.

The squared distance of the early means from their prediction, standardised and divided by their number k, has
about an F law with k and B - 1 degrees of freedom where the pour is a batch like the earlier ones. Beyond its
99 % point the pour is a stranger: no reading, but something to look for. A handful of batches cannot tell,
and what they would notice is said instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from planner.mixed_model.growth_prior import GrowthPrior
from planner.mixed_model.reading import Belief, CellMeans
from planner.terms.arrays import FloatArray

FEWEST_BATCHES = 6  # with five, a pour must lie some five standard deviations off to be seen
CONFIDENCE = 0.99  # sound pours are called strangers once in a hundred
STRONG = 0.99  # of sound pours are not called too strong, as far as the spread of the batches is known
NOTICED = 0.90  # share of times in which the printed deficit is noticed


@dataclass(frozen=True, slots=True, kw_only=True)
class StrangerTest:
    """Outcome of the test."""

    distance: float  # squared standardised distance over the number of early ages
    limit: float  # F quantile it is held against
    is_stranger: bool | None  # None: too few earlier batches to tell
    noticed_deficit: float  # strength that is missing, relative, where the test would speak 9 times in 10


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTest:
    """How strong the early means of a pour are beside what is expected of them."""

    excess: float  # over the expected, relative; below 0 where it is weaker
    limit: float  # that sound pours pass once in a hundred times

    @property
    def is_strong(self) -> bool:
        return self.excess > self.limit


def judge_stranger(prior: GrowthPrior, about: Belief, early: CellMeans) -> StrangerTest:
    """Hold a pour's early means against what records and trial batches say of them.

    Parameters
    ----------
    about
        Centre of the batches, as `centre` gives it.
    """
    from scipy.special import fdtri

    difference, covariance = _departures(prior, about, early)
    n_ages, n_freedom = len(difference), prior.n_batches - 1
    distance = float(difference @ np.linalg.solve(covariance, difference)) / n_ages
    limit = float(fdtri(n_ages, n_freedom, CONFIDENCE))
    together = float(np.ones(n_ages) @ np.linalg.solve(covariance, np.ones(n_ages)))
    return StrangerTest(
        distance=distance,
        limit=limit,
        is_stranger=distance > limit if prior.n_batches >= FEWEST_BATCHES else None,
        noticed_deficit=1.0 - float(np.exp(-np.sqrt(_noticed_noncentrality(n_ages, n_freedom, limit) / together))),
    )


def judge_level(prior: GrowthPrior, about: Belief, early: CellMeans) -> LevelTest:
    """Hold the level of a pour's early means against what records and trial batches say of it, on the strong side.

    The best estimate of one factor on all of them, against Student's law with B - 1 degrees of freedom.

    Parameters
    ----------
    about
        As in :func:`judge_stranger`.
    """
    from scipy.special import stdtrit

    difference, covariance = _departures(prior, about, early)
    weights = np.linalg.solve(covariance, np.ones(len(difference)))
    together = float(weights.sum())
    quantile = float(stdtrit(max(1, prior.n_batches - 1), STRONG))
    return LevelTest(
        excess=float(np.expm1(weights @ difference / together)),
        limit=float(np.expm1(quantile / np.sqrt(together))),
    )


def _departures(prior: GrowthPrior, about: Belief, early: CellMeans) -> tuple[FloatArray, FloatArray]:
    """Log early means less what they are expected at, ``(n_ages,)``, and their covariance ``(n_ages, n_ages)``."""
    expected, rows = prior.at(early.maturity_h)
    noise = prior.cv_at(early.maturity_h) ** 2 / early.n_specimens + prior.departure_variance(early.maturity_h)
    covariance = rows @ (about.covariance + prior.spread) @ rows.T + np.diag(noise)
    return np.log(early.mean_mpa) - expected - rows @ about.mean, covariance


@lru_cache(maxsize=256)  # the same for every mean that is tried
def _noticed_noncentrality(n_ages: int, n_freedom: int, limit: float) -> float:
    """Noncentrality of F at which the limit is passed in the wanted share of times."""
    from scipy.optimize import brentq
    from scipy.special import ncfdtr

    def missed(noncentrality: float) -> float:
        return float(ncfdtr(n_ages, n_freedom, noncentrality, limit)) - (1.0 - NOTICED)

    upper = 10.0
    while missed(upper) > 0.0:
        upper *= 2.0
    return float(brentq(missed, 1e-9, upper))
