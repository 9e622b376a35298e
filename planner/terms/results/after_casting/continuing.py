"""What the first breaks of a trial batch or of a pour make of the rest: a table before casting, an answer after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.schedule import Schedule

Action = Literal["go on", "add", "move", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokenMean:
    """Standard-cured specimens of the trial batch broken together."""

    age_h: float
    maturity_h: float  # [h at the reference temperature]
    mean_mpa: float
    n_specimens: int
    expected_mpa: float  # of the earlier batches' mean curve at this maturity


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialFigures:
    """The trial batch after its first breaks. Errors are RMS on its own batch, relative."""

    batch: str
    broken: tuple[BrokenMean, ...]
    action: Action
    planned: Schedule  # of the recommendation
    remaining: Schedule | None  # still to be broken; None: nothing
    error_before: float  # of the recommended schedule, all earlier batches counting alike
    error_as_planned: float  # of it, earlier batches counting as they are like this one
    error_after: float  # of what is broken now with what remains
    likeness: tuple[tuple[str, float], ...]  # share with which each earlier batch counts
    stranger: bool | None  # None: too few earlier batches to tell
    noticed_deficit: float  # missing strength that would be noticed 9 times in 10
    n_rescored: int  # schedules that begin as this batch did
    cost_change: float | None  # money of the calibration, new less planned; None without prices


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialAnswer(TrialFigures):
    """The same with its reasons in words."""

    why: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class IfThenBand:
    """First means between two strengths, and what is then done."""

    low_mpa: float | None  # None: no lower end
    high_mpa: float | None
    action: Action
    what: str  # in words
    sound_share: float  # of batches like the earlier ones whose first mean falls here
    batches: tuple[str, ...]  # earlier ones whose own mean falls here, carried to the same maturity


@dataclass(frozen=True, slots=True, kw_only=True)
class IfThenTable:
    """What to do after the first break, laid down before casting. Errors are RMS, relative."""

    age_h: float
    n_specimens: int
    expected_mpa: float
    bands: tuple[IfThenBand, ...]  # weakest first
    error_planned: float  # held-out batches, the plan kept
    error_followed: float  # the table followed
    specimens_planned: float  # mean of the held-out batches
    specimens_followed: float
    n_batches: int  # held out one by one
    n_changed: int  # of them that would have left the plan
    can_tell_strangers: bool
    noticed_deficit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class IfThen:
    """The tables of the trial batch and of a pour; None where there is none."""

    trial: IfThenTable | None
    pour: IfThenTable | None
