"""What reading breaks needs to know beside their own table."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.read.casting.batch_file import BatchRegister, Zone
from planner.read.datetimes.clock_formats import ClockPattern

DEFAULT_PROPERTY = "compressive"


@dataclass(frozen=True, slots=True)
class BreakContext:
    """Facts of the plan and of the batch file."""

    register: BatchRegister | None = None
    zone: Zone = field(default_factory=Zone)
    pattern: ClockPattern | None = None
    property: str = DEFAULT_PROPERTY
    geometry: str | None = None  # selected by the plan
    geometries: tuple[str, ...] = ()  # that the plan lists, by their nominal sizes; a batch may then have several
    can_date: bool = True  # False: the batch file or [prior] has faults, so clock times are left unread
    is_prior_known: bool = True  # False: [prior] has faults, what depends on it is not judged
    plan_ages_h: tuple[float, ...] = ()  # candidate and target ages
    age_tolerances: str | None = None  # None: those that are taken for the geometries broken
    is_later: bool = False  # breaks that come after the plan: they may give maturities and required strengths
