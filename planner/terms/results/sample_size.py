"""The count of specimens that is enough, or why none is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.promise import Promise
from planner.terms.schedule import Schedule

Basis = Literal["next batch", "own batch"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialBatches:
    """What calibrating on the mean of several trial batches would do."""

    n_trial_batches: int
    n_specimens: int  # over all of them
    rms: float
    within_tolerance: Promise  # share of later pours inside, projected


@dataclass(frozen=True, slots=True, kw_only=True)
class CountStep:
    """The schedule of lowest loss with at most so many specimens."""

    most_specimens: int  # over all trial batches
    schedule: Schedule  # of each
    rms: float
    within_tolerance: Promise
    within_tolerance_lower_95: Promise | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EnoughFigures:
    """The smallest count that is enough, or that none is."""

    basis: Basis
    tolerance: float
    assurance: float
    is_reached: bool
    n_specimens: int | None  # that are enough; None where none within the budget are
    schedule: Schedule  # that count's schedule; where none is enough, the best within the budget
    rms: float
    within_tolerance: Promise
    within_tolerance_lower_95: Promise | None
    n_specimens_beyond: int | None  # projected count beyond the budget that would be; None: no count will
    within_with_endless_specimens: Promise  # what is left to gain by specimens alone
    by_trial_batches: tuple[TrialBatches, ...]
    steps: tuple[CountStep, ...]
    n_trial_batches: int = 1  # that the count is over


@dataclass(frozen=True, slots=True, kw_only=True)
class Enough(EnoughFigures):
    """The same with its sentence, which says why where none is."""

    sentence: str
