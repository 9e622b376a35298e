"""One site check: the companions of one pour, what the curve promised, and what was asked of the pour that night."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from planner.issued_curve.rules.companions import Companions, comparison_sd


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """The checks of one pour inside the curve's range, as one: they share what makes the pour differ from the curve."""

    checks: tuple[SiteCheck, ...]  # one or more

    @property
    def difference(self) -> float:
        """Mean of the differences: below 0 where the concrete was weaker than read."""
        return sum(check.companions.difference for check in self.checks) / len(self.checks)

    @property
    def scatter(self) -> float:
        """Variance of that mean from the companions' scatter, relative."""
        return sum(check.scatter for check in self.checks) / len(self.checks) ** 2

    def z(self, later_rms: float) -> float:
        """Difference in standard deviations of a pour."""
        return self.difference / math.sqrt(later_rms**2 + self.scatter)


def pours_of(checks: Sequence[SiteCheck]) -> list[tuple[SiteCheck, ...]]:
    """Checks that stand one after the other and are of one pour, together."""
    return [tuple(found) for _, found in groupby(checks, key=lambda check: check.companions.batch)]
