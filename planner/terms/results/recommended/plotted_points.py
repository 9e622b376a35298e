"""Points of the pictures: growth of the records, held-out checks, error against specimens."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.plan.settings import CurveName
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthPoint:
    """One cell of the prior records, for pictures."""

    batch: str
    curing: str
    age_h: float
    maturity_h: float  # under the recommended maturity setting
    strength_mpa: float  # mean of the replicates
    n_specimens: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldOutPoint:
    """One held-out check: what the nested rule predicted and what the companions broke at."""

    batch: str
    target_age_h: float
    predicted_mpa: float
    actual_mpa: float
    condition: str  # what it was checked against
    trial_batch: str = ""  # whose curve read it, where that is another batch; "": its own


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontierPoint:
    """The best real schedule with so many specimens, and its error."""

    n_specimens: int
    schedule: Schedule
    rms: float  # apparent
    nested_rms: float | None
    cost: float | None
    curve: CurveName | None = None
