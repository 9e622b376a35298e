"""What reading temperatures needs to know beside their own table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from planner.read.casting.batch_file import BatchRegister, Zone
from planner.read.datetimes.clock_formats import ClockPattern
from planner.terms.records import Curing


@dataclass(frozen=True, slots=True)
class Place:
    """Where a sensor sat."""

    batch: str
    curing: Curing
    placement: str = ""


@dataclass(frozen=True, slots=True)
class ReadingContext:
    """Facts of the plan and of the batch file."""

    register: BatchRegister | None = None
    zone: Zone = field(default_factory=Zone)
    pattern: ClockPattern | None = None
    skip_rows: int = 0
    sensors: Mapping[str, Place] = field(default_factory=dict)  # heading of a sensor column -> its place
    unit: Literal["C", "F"] | None = None  # of sensor columns; None: as their headings say, else C
    is_first_zero: bool = False  # the first reading counts as age zero
    earliest_target_h: float | None = None
