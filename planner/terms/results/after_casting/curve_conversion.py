"""How an issued curve tells the strength of the geometry that the specification speaks of, as plain numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.terms.results.geometry.conversion_figures import ConversionFigures, ConversionForm


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveConversion:
    """Strengths of the specimens that are broken into those that the curve reads: ``factor x^exponent`` [MPa]."""

    from_geometry: str  # cast and broken
    to_geometry: str  # read
    form: ConversionForm
    factor: float
    exponent: float
    rms: float  # how far off a new batch is converted, relative; part of every error that is promised
    span_mpa: tuple[float, float] | None  # strengths broken that the pairs hold; None: a stated factor, no pairs
    n_pairs: int
    n_batches: int  # with pairs

    def __post_init__(self) -> None:
        is_positive = all(math.isfinite(value) and value > 0 for value in (self.factor, self.exponent))
        if not is_positive or not 0 <= self.rms < 1:
            raise ValueError(
                "A conversion has a factor and an exponent above 0 and an error below 1, given "
                f"{self.factor}, {self.exponent} and {self.rms}."
            )
        if self.span_mpa is not None and not 0 < self.span_mpa[0] < self.span_mpa[1]:
            raise ValueError(f"The pairs of a conversion span strengths that rise from above 0, given {self.span_mpa}.")

    @classmethod
    def of(cls, conversion: ConversionFigures, *, rms: float) -> CurveConversion:
        """As an answer uses it; `rms` is its part in the errors of the answer."""
        factor, exponent = conversion.line
        return cls(
            from_geometry=conversion.from_geometry,
            to_geometry=conversion.to_geometry,
            form=conversion.form,
            factor=factor,
            exponent=exponent,
            rms=rms,
            span_mpa=conversion.span_mpa if conversion.n_pairs else None,
            n_pairs=conversion.n_pairs,
            n_batches=conversion.n_batches,
        )

    def convert(self, broken_mpa: float) -> float:
        """Strength in `to_geometry` [MPa]."""
        return float(self.factor * broken_mpa**self.exponent)

    def back(self, read_mpa: float) -> float:
        """Strength in `from_geometry` [MPa]."""
        return float((read_mpa / self.factor) ** (1.0 / self.exponent))

    @property
    def read_span_mpa(self) -> tuple[float, float] | None:
        """Strengths read that the pairs hold; None without pairs."""
        return None if self.span_mpa is None else (self.convert(self.span_mpa[0]), self.convert(self.span_mpa[1]))
