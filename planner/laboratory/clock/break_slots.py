"""What a casting asks for on the clock: each break with its window, and the attendances."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakSlot:
    """One age of one casting: the breaks that are due together."""

    casting: str  # which casting it belongs to, "" where there is only one
    age_h: float
    n_specimens: int
    due_at: dt.datetime  # the nominal age, in the laboratory's zone
    earliest_at: dt.datetime  # permitted window
    latest_at: dt.datetime
    starts_at: dt.datetime  # first specimen goes in: centred on the age, moved into hours where the window allows
    ends_at: dt.datetime
    minutes_per_break: float
    minutes_needed: float  # all its specimens on the machines there are
    visit: int  # which attendance it belongs to, from 0
    is_inside_hours: bool  # the first specimen goes in and the last is done while the laboratory is open
    is_moved: bool  # to other hours than those it is due in or next to, within its permitted window
    fits_window: bool  # all its specimens can be broken inside the permitted window
    runs_past_hours: bool  # due inside hours, but its specimens cannot all be broken inside them
    is_before_form_removal: bool

    @property
    def window_minutes(self) -> float:
        """Length of the permitted window."""
        return (self.latest_at - self.earliest_at).total_seconds() / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Attendance:
    """One visit."""

    starts_at: dt.datetime
    ends_at: dt.datetime
    ages_h: tuple[float, ...]
    n_specimens: int
    is_outside_hours: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakTimes:
    """A schedule on the clock."""

    cast_at: dt.datetime  # in the laboratory's zone
    slots: tuple[BreakSlot, ...]  # one per age, youngest first
    attendances: tuple[Attendance, ...]
    warnings: tuple[str, ...]  # what cannot be done as written, one sentence each
    is_always_open: bool = False  # no break can fall outside laboratory hours
    is_casting_outside_hours: bool = False

    @property
    def n_visits(self) -> int:
        return len(self.attendances)

    @property
    def n_outside(self) -> int:
        """Attendances outside laboratory hours."""
        return sum(item.is_outside_hours for item in self.attendances)
