"""What specimens cast together say of the strength of one geometry told by another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ConversionForm = Literal["none", "ratio", "power law", "stated factor"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConvertedStrength:
    """One line of the table: a strength in one geometry, and what it is in the other."""

    from_mpa: float
    to_mpa: float
    lower_mpa: float  # 9 in 10 new batches lie within
    upper_mpa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PairPoint:
    """Means of specimens of both geometries of one batch, curing and age."""

    batch: str
    curing: str
    age_h: float
    from_mpa: float
    to_mpa: float
    residual: float  # converted by the other batches' pairs, over measured, less 1


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeResidual:
    """What is left at one age: mean over batches."""

    age_h: float
    n_batches: int
    mean: float  # converted over measured, less 1
    standard_error: float | None  # None: one batch


@dataclass(frozen=True, slots=True, kw_only=True)
class ConversionFigures:
    """One relation between two geometries, with its error."""

    from_geometry: str
    to_geometry: str
    form: ConversionForm
    n_pairs: int
    n_batches: int  # with pairs
    ratio: float  # through the origin; the stated factor where there are no pairs
    ratio_se: float | None  # None: stated
    power: tuple[float, float] | None  # a and b of ``to = a from^b``
    rms_left_out: tuple[tuple[ConversionForm, float], ...]  # of each form on batches left out
    deciding: tuple[tuple[float, float, float], ...]  # of each target: age [h], strength there in `from`, error (sd)
    between_batch_cv: float  # how batches differ, relative
    span_mpa: tuple[float, float]  # strengths in `from_geometry` that the pairs hold; (0, 0): stated
    table: tuple[ConvertedStrength, ...]
    pairs: tuple[PairPoint, ...]
    by_age: tuple[AgeResidual, ...]
    drift_per_decade: float | None  # of the residual with tenfold age, where it is told apart from chance
    more_pairs: tuple[tuple[int, float, float], ...]  # further batches with pairs, error now and then

    def convert(self, from_mpa: float) -> float:
        """Strength in `to_geometry` [MPa]."""
        factor, exponent = self.line
        return float(factor * from_mpa**exponent)

    def back(self, to_mpa: float) -> float:
        """Strength in `from_geometry` [MPa]: what the testing machine meets."""
        factor, exponent = self.line
        return float((to_mpa / factor) ** (1.0 / exponent))

    @property
    def line(self) -> tuple[float, float]:
        """Factor and exponent of ``to = factor from^exponent``."""
        if self.form == "power law":
            assert self.power is not None
            return self.power
        return (1.0 if self.form == "none" else self.ratio), 1.0
