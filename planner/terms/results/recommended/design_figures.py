"""What no placement of the specimens can beat, and what each age does for the recommendation."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.plan.settings import CurveName


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """What no placement of the same specimens can beat, in variance."""

    rms: float  # least standard deviation any placement of the budget's specimens could have
    schedule_rms: float  # that of the recommended schedule
    efficiency: float  # rms^2 / schedule_rms^2
    best_ages: tuple[tuple[float, float], ...]  # (age [h], share of the specimens) of the optimal placement
    curve: CurveName | None = None  # the smooth curve it is computed for


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeRole:
    """What one candidate age does for the recommendation."""

    age_h: float
    inclusion: float  # how often it is in the best schedule over resampled sets of batches
    rms_if_dropped: float | None  # recommended schedule without it; None if it is not in it or cannot go
    rms_if_added: float | None  # recommended schedule with it; None if it is in it or cannot come
    is_required: bool = False
    drawn_mpa: float | None = None  # mean strength of the drawn batches at it; None where breaks judge
