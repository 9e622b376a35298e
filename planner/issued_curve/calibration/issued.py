"""The curve that is issued: what a logger, a sheet and later checks need of it, and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from planner.curves.fitted_strength import fitted_strength
from planner.curves.reached_maturity import N_SOUGHT, reached_maturity
from planner.maturity import constant_maturity
from planner.maturity.break_maturity import rate
from planner.mixed_model import mean_curve
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, Weighting
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from planner.terms.results.after_casting.pour_model import PourModel

Basis = Literal["trial", "records"]
IssuedName = Literal[CurveName, "records"]
RECORDS_CURVE: IssuedName = "records"  # no formula: the earlier batches' mean through its knots
RECORDS_CURVE_FEWEST = 4  # earlier batches of one mix below which their mean is no calibration
NEARLY = 1.2  # strength read over strength waited for, up to which companions tell of it
LEAST_LEFT = 0.5  # of an error when a part is taken out
TEMPERATURE_SLACK_K = 1.0  # outside the calibrated temperatures that is let off


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchCurve:
    """The curve fitted to one trial batch; or the mean of the earlier batches, then the only one."""

    batch: str
    parameters: tuple[float, ...]  # as the curve orders them; of the earlier batches' mean: strengths at the knots
    parameter_se: tuple[float, ...]
    knots_h: tuple[float, ...]  # maturities of the fitted means [h at the reference temperature]


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What may be said of readings of this curve, fixed when it is issued."""

    own_rms: float | None  # RMS error on the own batch, relative, nested; None: not known
    later_rms: float | None  # RMS error on a later pour; None: not known
    within_test_cv: float  # scatter of single companions at the targets, relative
    companions_per_check: int
    safe_factor: float | None  # strength read over strength to rely on, 1 or more; None: refused
    n_batches: int  # earlier batches behind these figures
    tolerance: float
    assurance: float
    conversion_rms: float = 0.0  # the conversion's part in the errors; 0: nothing is converted

    def check_rms(self, *, is_converted: bool) -> float | None:
        """Error on a later pour as companions see it: those converted like the curve tell nothing of the conversion."""
        return without_part(self.later_rms, self.conversion_rms if is_converted else 0.0)

    def acceptance_rms(self, *, is_converted: bool) -> float | None:
        """The same of the own batch."""
        return without_part(self.own_rms, self.conversion_rms if is_converted else 0.0)


def without_part(rms: float | None, part_rms: float) -> float | None:
    """An error without one of its parts, both relative, and never less than half of it: parts are known no better."""
    if rms is None or part_rms == 0.0:
        return rms
    return math.sqrt(max(rms**2 - part_rms**2, (LEAST_LEFT * rms) ** 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class IssuedCurve:
    """A numbered strength-maturity curve with its limits."""

    number: int
    supersedes: int | None
    title: str
    mix: str
    geometry: str
    property: str
    curve: IssuedName
    weighting: Weighting
    maturity: MaturitySetting
    batches: tuple[BatchCurve, ...]  # the curve is the mean of theirs at each maturity
    basis: Basis
    is_calibrated: bool
    span_h: tuple[float, float]  # maturities that every trial batch was broken at or between
    temperature_c: tuple[float, float] | None  # of the concrete; None: not limited by the plan
    standard_c: float | None  # temperature of standard curing
    target_ages_h: tuple[float, ...]
    promise: Promise
    inputs: tuple[tuple[str, str], ...]  # (file, "sha256:...")
    version: str  # of the program
    age_zero: str = ""  # from which moment ages and maturity count, "" where the records do not say
    waits_mpa: tuple[float, ...] = ()  # strengths that the plan waits for
    scale: float = 1.0  # below 1 where site checks scaled it down
    conversion: CurveConversion | None = None  # from the geometry broken to the one read; None: the same
    pour_model: PourModel | None = None  # by which pours with early breaks are read; None where none may be

    def __post_init__(self) -> None:
        if self.number < 1 or not self.batches or not 0 < self.scale <= 1:
            raise ValueError(
                f"A curve has a number from 1, a fitted batch and a scale above 0 up to 1, given {self.number}, "
                f"{len(self.batches)} and {self.scale}."
            )
        if (self.basis == "records") != (self.curve == RECORDS_CURVE):
            raise ValueError(f"The mean of the records is no fitted curve, given {self.basis} and {self.curve}.")
        if not 0 < self.span_h[0] < self.span_h[1]:
            raise ValueError(f"A curve spans maturities that rise from above 0 h, given {self.span_h}.")

    def strength(self, maturity_h: ArrayLike) -> FloatArray:
        """Read the curve [MPa] at maturities [h at the reference temperature], shape ``(n,)``."""
        each = [self._strength_of(item, maturity_h) for item in self.batches]
        return np.asarray(self.scale * np.mean(each, axis=0), dtype=np.float64)

    def _strength_of(self, item: BatchCurve, maturity_h: ArrayLike) -> FloatArray:
        if self.curve == "records":
            knots_h, strengths = np.array(item.knots_h), np.array(item.parameters)
            curve = mean_curve(np.log(knots_h), np.log(strengths), np.ones(len(knots_h)))
            return np.exp(curve.at(np.log(np.asarray(maturity_h, dtype=np.float64)))[0])
        return fitted_strength(self.curve, maturity_h, item.parameters, knots_h=item.knots_h)

    def n_curves(self) -> int:
        """Batches whose mean it is: of the records' own mean curve all earlier ones."""
        return self.promise.n_batches if self.basis == "records" else len(self.batches)

    def read(self, maturity_h: float) -> float:
        """Read the curve [MPa] at one maturity [h at the reference temperature]."""
        return float(self.strength(np.array([maturity_h]))[0])

    def safe(self, maturity_h: float) -> float | None:
        """Strength [MPa] to compare with the one required; None where it is refused or outside the span."""
        factor = self.promise.safe_factor
        if factor is None or not self.is_calibrated or not self.holds_at(maturity_h):
            return None
        return self.read(maturity_h) / factor

    def holds_at(self, maturity_h: float) -> bool:
        """Whether a maturity lies between the first and the last break."""
        slack = 1e-9 * maturity_h
        return self.span_h[0] - slack <= maturity_h <= self.span_h[1] + slack

    def within_pairs(self) -> IssuedCurve:
        """The curve over the maturities at which it reads strengths that the pairs of its conversion hold.

        Raises
        ------
        ValueError
            Where there are none.
        """
        span = None if self.conversion is None else self.conversion.read_span_mpa
        if span is None:
            return self
        sought = np.geomspace(*self.span_h, N_SOUGHT)
        is_held = (self.strength(sought) >= span[0]) & (self.strength(sought) <= span[1])
        if is_held.sum() < 2:
            raise ValueError("The curve reads no strength that the pairs of its conversion hold.")
        first, last = np.flatnonzero(is_held)[[0, -1]]
        return replace(self, span_h=(float(sought[first]), float(sought[last])))

    def is_at_target(self, age_h: float, maturity_h: float) -> bool:
        """Whether specimens of an age [h] and a maturity [h] tell of a target: its age, or nearly its strength."""
        if age_h in self.target_ages_h:
            return True
        read_mpa = self.read(maturity_h)
        return any(1.0 / NEARLY <= read_mpa / strength_mpa <= NEARLY for strength_mpa in self.waits_mpa)

    def maturity_at(self, strength_mpa: float) -> float | None:
        """Least maturity [h] in the span from which on the curve reads this strength or more; None: not there."""
        return reached_maturity(self.strength, self.span_h, strength_mpa)

    def target_maturities_h(self) -> tuple[float, ...]:
        """Maturity [h] of each target age at standard curing, or by age where no temperature is stated."""
        return tuple(self.maturity_of_age(age_h) for age_h in self.target_ages_h)

    def maturity_of_age(self, age_h: float) -> float:
        """Maturity [h] of an age [h] at standard curing, or the age where no temperature is stated."""
        if self.standard_c is None:
            return age_h
        return float(constant_maturity(np.array(age_h), self.standard_c, self.maturity))

    def hours_at(self, maturity_h: float, temperature_c: float) -> float:
        """Hours at one concrete temperature [C] to a maturity [h]; infinite where nothing accumulates."""
        gained = float(rate(np.array(temperature_c), self.maturity))
        return maturity_h / gained if gained > 0 else float("inf")

    def of_batch(self, batch: str) -> IssuedCurve:
        """The curve of one of its trial batches alone, over its own maturities; the whole where it has none."""
        own = tuple(item for item in self.batches if item.batch == batch)
        if not own or len(self.batches) == 1:
            return self
        return replace(self, batches=own, span_h=(own[0].knots_h[0], own[0].knots_h[-1]))

    def is_outside_temperatures(self, temperature_c: float | None) -> bool:
        """Whether a mean temperature [C] lies outside those of the calibration; 1 K is let off. No where unknown."""
        if self.temperature_c is None or temperature_c is None:
            return False
        coolest, warmest = self.temperature_c
        return not coolest - TEMPERATURE_SLACK_K <= temperature_c <= warmest + TEMPERATURE_SLACK_K

    def as_judged(self, *, is_calibrated: bool, model: PourModel | None) -> IssuedCurve:
        """The same curve after its acceptance, with what later pours are read by from their early breaks."""
        return replace(self, is_calibrated=is_calibrated, pour_model=model)

    def scaled(self, factor: float, *, number: int, span_h: tuple[float, float]) -> IssuedCurve:
        """The curve scaled down under a new number, for the maturities that the site checks span."""
        return replace(
            self,
            scale=self.scale * factor,
            number=number,
            supersedes=self.number,
            span_h=span_h,
            pour_model=None,  # the site has departed from what it says
        )
