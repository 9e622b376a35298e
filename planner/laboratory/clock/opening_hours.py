"""When the laboratory is open, as shifts in seconds since the epoch.

Wall clocks jump twice a year, elapsed hours do not. Every shift is therefore turned into two instants
once, here, and everything after compares instants.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from planner.terms.arrays import IntArray
from planner.terms.plan.settings import Laboratory

OUTSIDE = -1  # shift index of an instant at which the laboratory is closed
SECONDS_PER_HOUR = 3600
SECONDS_PER_DAY = 86400
ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shifts:
    """Spells during which the laboratory is open, none overlapping, first to last."""

    opens_s: IntArray  # since the epoch [s], shape (n_shifts,)
    closes_s: IntArray  # since the epoch [s]; the closing second is still inside, shape (n_shifts,)
    day: IntArray  # ordinal of the date on which the shift begins, shape (n_shifts,)

    @property
    def spell_opens_s(self) -> IntArray:
        """When the laboratory opened without closing until each shift: round the clock shifts follow one another."""
        begins = np.r_[True, self.opens_s[1:] != self.closes_s[:-1]][: self.opens_s.size]
        return np.asarray(self.opens_s[np.maximum.accumulate(np.where(begins, np.arange(begins.size), 0))])

    @property
    def spell_closes_s(self) -> IntArray:
        """When it next closes after each shift began."""
        ends = np.r_[self.opens_s[1:] != self.closes_s[:-1], True][: self.closes_s.size]
        last = np.where(ends, np.arange(ends.size), ends.size)
        return np.asarray(self.closes_s[np.minimum.accumulate(last[::-1])[::-1]])

    def index(self, instants_s: IntArray) -> IntArray:
        """Which shift each instant falls in, `OUTSIDE` where it falls in none. Any shape."""
        if self.opens_s.size == 0:
            return np.full(instants_s.shape, OUTSIDE, dtype=np.int64)
        found = np.searchsorted(self.opens_s, instants_s, side="right") - 1
        is_open = (found >= 0) & (instants_s <= self.closes_s[np.maximum(found, 0)])
        return np.where(is_open, found, OUTSIDE).astype(np.int64)


def laboratory_zone(laboratory: Laboratory) -> ZoneInfo:
    """Find the laboratory's time zone. Raises ValueError naming it where there is none of that name."""
    try:
        return ZoneInfo(laboratory.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(
            f'Time zone "{laboratory.time_zone}" is not known. Use a name like "Europe/Oslo" or "UTC".'
        ) from error


def local_time(clock: dt.datetime, laboratory: Laboratory) -> dt.datetime:
    """Read a wall-clock time as one in the laboratory's zone; an aware time is only moved there.

    Raises
    ------
    ValueError
        The time does not exist in that zone because the clocks go forward over it, or comes twice because
        they go back over it.
    """
    zone = laboratory_zone(laboratory)
    if clock.tzinfo is not None:
        return clock.astimezone(zone)
    aware = clock.replace(tzinfo=zone)
    if aware.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) != clock:
        raise ValueError(
            f"{clock:%Y-%m-%d %H:%M} does not exist in {laboratory.time_zone}: the clocks go forward "
            "over it. Give an hour earlier or later."
        )
    first, second = (clock.replace(tzinfo=zone, fold=fold).isoformat(" ", "minutes") for fold in (0, 1))
    if is_repeated(clock, laboratory):
        raise ValueError(
            f"{clock:%Y-%m-%d %H:%M} comes twice in {laboratory.time_zone}: the clocks go back over it. "
            f'Write which one is meant: "{first}" or "{second}".'
        )
    return aware


def without_dates(laboratory: Laboratory) -> Laboratory:
    """The same hours in a week without dates: no day is closed and clocks never change."""
    return replace(laboratory, closed=(), time_zone="UTC")


def is_repeated(clock: dt.datetime, laboratory: Laboratory) -> bool:
    """Whether a wall-clock time comes twice in the laboratory's zone, in the night the clocks go back."""
    zone = laboratory_zone(laboratory)
    first, second = (clock.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1))
    return first is not None and second is not None and first > second


def shifts_between(laboratory: Laboratory, first: dt.date, last: dt.date) -> Shifts:
    """List every shift that begins on the dates from `first` to `last`, and the night shift before them.

    A laboratory that closes before it opens works through the night: the shift belongs to the day on
    which it begins, which must be an open day. Equal times mean round the clock, a shift a calendar day.
    """
    zone = laboratory_zone(laboratory)
    closed = frozenset(laboratory.closed)
    span = (last - first).days + 2
    dates = [first + n * ONE_DAY for n in range(-1, span - 1)]
    worked = [date for date in dates if date.weekday() in laboratory.days and date not in closed]
    ends_next_day = laboratory.closes <= laboratory.opens
    opens_s = [_instant_s(date, laboratory.opens, zone, fold=0) for date in worked]
    closes_s = [_instant_s(date + ends_next_day * ONE_DAY, laboratory.closes, zone, fold=1) for date in worked]
    return Shifts(
        opens_s=np.array(opens_s, dtype=np.int64),
        closes_s=np.array(closes_s, dtype=np.int64),
        day=np.array([date.toordinal() for date in worked], dtype=np.int64),
    )


def is_open_at(instant: dt.datetime, laboratory: Laboratory) -> bool:
    """Whether the laboratory is open at a time with a zone."""
    day = instant.astimezone(laboratory_zone(laboratory)).date()
    shifts = shifts_between(laboratory, day, day)
    return bool(shifts.index(instants_s(instant, (0.0,)))[0] != OUTSIDE)


def instants_s(cast_at: dt.datetime, ages_h: IntArray | tuple[float, ...]) -> IntArray:
    """Seconds since the epoch at which concrete cast then reaches each age, to the whole second."""
    if cast_at.tzinfo is None:
        raise ValueError(f"A casting time needs a time zone, given {cast_at:%Y-%m-%d %H:%M} without one.")
    elapsed_s = np.rint(np.asarray(ages_h, dtype=np.float64) * SECONDS_PER_HOUR).astype(np.int64)
    return np.int64(round(cast_at.timestamp())) + elapsed_s


def clock_time(instant_s: int, zone: dt.tzinfo) -> dt.datetime:
    """Turn an instant back into a wall-clock time."""
    return dt.datetime.fromtimestamp(int(instant_s), tz=dt.UTC).astimezone(zone)


def _instant_s(date: dt.date, time: dt.time, zone: ZoneInfo, *, fold: int) -> int:
    # A closing time that comes twice is the later one, so that the longer night is worked through.
    return round(dt.datetime.combine(date, time, tzinfo=zone).replace(fold=fold).timestamp())
