"""One site check: the companions of one pour, what the curve promised, and what was asked of the pour that night."""

from __future__ import annotations

from dataclasses import dataclass

from .companions import Companions, comparison_sd


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteCheck:
    """The companions of one pour, with what was asked of it."""

    companions: Companions
    within_test_cv: float  # scatter of single companions, relative
    safe_mpa: float | None  # safe reading at the companions' maturity; None: refused
    required_mpa: float | None = None  # strength required that night; None: not stated

    @property
    def scatter(self) -> float:
        """Variance of the companions' mean, relative."""
        return self.within_test_cv**2 / self.companions.n_specimens

    def z(self, later_rms: float) -> float:
        """Difference in standard deviations of a check; below 0 where the concrete was weaker than read."""
        sd = comparison_sd(
            reading_rms=later_rms,
            within_test_cv=self.within_test_cv,
            n_specimens=self.companions.n_specimens,
        )
        return self.companions.difference / sd
