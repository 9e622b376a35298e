"""How far each break of a schedule may slip off its age before the schedule tells noticeably less."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

SlipEnd = Literal["precision", "neighbour", "records"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakSlip:
    """One break; all others stay at their ages. Holds where the curve is fitted with the actual age."""

    age_h: float
    earlier_h: float  # how much younger [h]
    later_h: float  # how much older [h]
    earlier_ends: SlipEnd  # what ends it: too little precision kept, the age before, or the youngest recorded age
    later_ends: SlipEnd  # the same for the age after and the oldest recorded age
    permitted_h: float | None  # deviation either way that the standard permits [h]; None: not covered


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """The breaks of the recommended schedule."""

    kept: float  # share of the planned schedule's precision that is kept: planned variance over that with the slip
    standard: str  # age tolerances that the permitted deviations come from
    breaks: tuple[BreakSlip, ...]  # youngest first
