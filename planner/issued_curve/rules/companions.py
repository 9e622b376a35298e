"""Site-cured companions beside the curve: what the curve reads at their own maturity, and what they broke at."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Companions:
    """Specimens cured beside the work and broken together, with the reading at their own maturity."""

    batch: str  # the trial batch, or the pour
    age_h: float  # since age zero [h]
    maturity_h: float  # hours at the reference temperature
    read_mpa: float  # the curve at this maturity
    broken_mpa: float  # mean of the companions
    n_specimens: int
    placement: str = ""
    is_target: bool = True  # at one of the plan's target ages
    is_inside: bool = True  # within the maturities of the breaks behind the curve

    def __post_init__(self) -> None:
        wrong = [f"{name} {value}" for name, value in self._positive() if not (math.isfinite(value) and value > 0)]
        if wrong:
            raise ValueError(f"Ages, maturities, strengths and counts of companions are above 0, given {wrong}.")

    def _positive(self) -> tuple[tuple[str, float], ...]:
        return (
            ("age_h", self.age_h),
            ("maturity_h", self.maturity_h),
            ("read_mpa", self.read_mpa),
            ("broken_mpa", self.broken_mpa),
            ("n_specimens", self.n_specimens),
        )

    @property
    def difference(self) -> float:
        """Broken less read, as a share of the reading: below 0 where the concrete was weaker than read."""
        return self.broken_mpa / self.read_mpa - 1.0


def comparison_sd(*, reading_rms: float, within_test_cv: float, n_specimens: int) -> float:
    """Standard deviation of a difference: error of the reading and scatter of the companions' mean, relative.

    Parameters
    ----------
    reading_rms
        RMS error of the reading, relative: of the own batch where the calibration is accepted, of a later pour
        where a site check is judged.
    within_test_cv
        Scatter of single companions, relative.
    n_specimens
        Companions behind the mean, 1 or more.

    Raises
    ------
    ValueError
        Where both are 0, one is below 0 or not finite, or there is no companion.
    """
    if n_specimens < 1 or not (0 <= reading_rms < math.inf and 0 <= within_test_cv < math.inf):
        raise ValueError(
            "The deviation of a check needs errors not below 0 and one companion or more, given "
            f"{reading_rms}, {within_test_cv} and {n_specimens}."
        )
    sd = math.sqrt(reading_rms**2 + within_test_cv**2 / n_specimens)
    if sd == 0:
        raise ValueError("A check needs an error of the reading or a scatter of the companions above 0, given 0 and 0.")
    return sd
