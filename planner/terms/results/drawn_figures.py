"""What drawn batches tell beside a recommendation: errors over temperatures, and the worth of more breaks."""

from __future__ import annotations

from dataclasses import dataclass

from planner.terms.labels import age_label
from planner.terms.promise import Promise


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureRow:
    """Errors at one mean concrete temperature and target."""

    target_age_h: float
    temperature_c: float
    bias: float  # mean signed error
    rms: float  # with the scatter of the schedule's own specimens
    low_05: float  # 5 % of the drawn batches lie below
    high_95: float  # 5 % lie above
    within_tolerance: Promise
    over_predicted_beyond_tolerance: Promise


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """One way of breaking one more batch, and what would be left of the uncertainty."""

    ages_h: tuple[float, ...]  # of the new batch
    spread_now: float | None  # standard deviation of what the mix's mean strength at the targets may be, relative
    spread_after: float | None
    bound_now: float | None  # upper 95 % bound of the RMS error; None where nothing is promised
    bound_after: float | None

    @property
    def label(self) -> str:
        return f"one batch at {', '.join(age_label(age) for age in self.ages_h)}"
