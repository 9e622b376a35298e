"""What an estimator weighs beside the price: what else could be bought, when the curve is there, what may go wrong.

Errors are relative (0.10 = 10 %), of fixed programmes.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from planner.terms.promise import Promise
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeDays:
    """When the trial batches of a programme are cast and broken."""

    last_cast_h: float  # from the first casting to the last
    due: tuple[dt.datetime, ...] = ()  # end of every age in the last trial batch; () without casting times


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """The curve that can be fitted once the first breaks of a schedule are in."""

    age_h: float  # of the last break it needs in the last trial batch, counted from the first casting
    n_ages: int
    own_rms: float
    later_rms: float | None  # None where the records do not tell
    due: dt.datetime | None = None  # when its last specimen is broken; None without casting times


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One way to spend the money."""

    name: str
    n_trial_batches: int
    schedule: Schedule | None  # of each trial batch; None where nothing is cast
    cost: float | None  # of the calibration; with early breaks those of all pours too
    later_rms: float | None
    within_tolerance: Promise | None  # share of later pours with every target inside
    stages: tuple[Stage, ...]  # first curve first; () where the records alone are read
    is_within_limits: bool
    n_early: int = 0  # specimens that every pour breaks before it is read
    is_recommended: bool = False

    @property
    def n_specimens(self) -> int:
        """Broken for the curve, over all trial batches."""
        return 0 if self.schedule is None else self.n_trial_batches * self.schedule.n_specimens


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareOption:
    """So many companions of every trial batch cast in reserve, for a calibration that more of them may save."""

    n_spares: int  # of one trial batch
    chance_of_repeat: float  # of one trial batch
    expected_cost: float | None  # of the calibration with its acceptance, repeats included; None without prices


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """What the acceptance of the calibration and the site checks may cost. Expected, never in a sum."""

    chance_of_repeat: float  # of one trial batch, without companions in reserve
    chance_lower_95: float
    chance_upper_95: float
    n_batches: int  # held against their own companions
    n_strangers: int | None  # of them that do not grow like the others; None: so few batches cannot tell
    cost_without_repeat: float | None  # calibration and acceptance, if nothing is repeated
    options: tuple[SpareOption, ...]  # without spares first
    cheapest: int  # place of the option of least expected cost; without prices of least chance
    n_checks: int  # site checks; 20 where the plan names none
    chance_of_false_alarm: float | None  # that a sound curve is withdrawn within them; None: not known
    expected_alarm_cost: float | None  # that chance times the trial batches cast and accepted anew
