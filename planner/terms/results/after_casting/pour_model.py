"""What the earlier batches and the trial batch say of a later pour, as plain numbers that an issued curve can carry."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from planner.terms.plan.early_breaks import PourReading


@dataclass(frozen=True, slots=True, kw_only=True)
class Knot:
    """One maturity of the earlier batches' mean curve."""

    maturity_h: float  # [h at the reference temperature]
    strength_mpa: float
    slope: float  # d log strength / d log maturity, 0 or more
    cv: float  # within-test scatter of single specimens, relative
    noise: float  # variance of the mean curve here, log strength


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialMean:
    """A mean of a trial batch."""

    maturity_h: float
    mean_mpa: float
    n_specimens: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Remainder:
    """What the trial curve, shifted to early breaks at these ages, leaves of the difference between batches."""

    ages_h: tuple[float, ...]  # of the early breaks before the target, rising
    target_h: float
    variance: float  # relative, of held-out pours; the scatter of the early specimens apart


@dataclass(frozen=True, slots=True, kw_only=True)
class PourModel:
    """How batches of the mix differ, estimated from all earlier batches."""

    reading: PourReading  # that was best on held-out batches
    knots: tuple[Knot, ...]  # rising maturity, 2 or more
    scale_sd: float  # between batches, log strength
    rate_sd: float  # log maturity
    departure_sd: float  # of single ages, log strength
    n_batches: int
    n_freedom: float  # behind the standard deviations
    widening: float  # variance of held-out readings over the stated one, 1 or more
    span_h: tuple[float, float]  # least and most maturity of the earlier batches' breaks
    least_strength_mpa: float  # weaker specimens cannot be broken
    trials: tuple[tuple[TrialMean, ...], ...] = ()  # means of each trial batch; none before they are broken
    remainders: tuple[Remainder, ...] = ()  # by which a rescaled trial curve is read; none for the other readings

    def __post_init__(self) -> None:
        maturities = [knot.maturity_h for knot in self.knots]
        if len(maturities) < 2 or any(later <= earlier for earlier, later in pairwise(maturities)):
            raise ValueError(f"The mean curve has two maturities or more, rising, given {maturities}.")
        if not 0 < self.span_h[0] < self.span_h[1] or self.widening < 1 or self.n_batches < 2:
            raise ValueError(
                "Pours are read from two batches or more over maturities that rise, with a widening of 1 or more, "
                f"given {self.n_batches}, {self.span_h} and {self.widening}."
            )
        if (self.reading == "rescaled") != bool(self.remainders):
            raise ValueError(f"Remainders are of a rescaled trial curve alone, given {len(self.remainders)} of them.")
