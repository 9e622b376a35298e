"""A schedule: the ages at which specimens are broken, and how many at each."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Schedule:
    """Ages with their specimens, youngest first."""

    ages_h: tuple[float, ...]  # rising, since age zero [h]
    specimens: tuple[int, ...]  # broken at each age

    def __post_init__(self) -> None:
        if not self.ages_h or len(self.ages_h) != len(self.specimens):
            raise ValueError("A schedule needs one specimen count for each of its ages.")
        if any(later <= earlier for earlier, later in zip(self.ages_h, self.ages_h[1:], strict=False)):
            raise ValueError(f"Break ages must rise, given {self.ages_h}.")
        if self.ages_h[0] <= 0 or min(self.specimens) < 1:
            raise ValueError("Break ages must be above 0 h and every age needs a specimen.")

    @property
    def n_specimens(self) -> int:
        return sum(self.specimens)

    @property
    def n_ages(self) -> int:
        return len(self.ages_h)

    @property
    def last_age_h(self) -> float:
        return self.ages_h[-1]
