"""The best calibration of every geometry that could be cast, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from planner.terms.promise import Promise
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from planner.terms.results.geometry.conversion_figures import ConversionFigures
from planner.terms.results.programme_figures import Programme


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorParts:
    """What the error of a programme is made of, in squares: curve + conversion + twice their covariance = total."""

    total_rms: float  # where programmes are judged, against strength in the target's geometry
    curve_rms: float | None  # the same programme held against truths of its own geometry; None: too few
    conversion_rms: float  # of the conversion at the targets, for a new batch; 0: nothing is converted
    not_credited: float = 0.0  # variance put on measured truths, as a covariance below 0 shows in too few batches
    shown_rms: float | None = None  # the total as the batches show it, with nothing put on; None: the same

    @property
    def twice_covariance(self) -> float | None:
        """What is left of the total: above 0 where errors of curve and conversion add up, else put back to about 0."""
        return self._left_of(self.total_rms)

    @property
    def shown_covariance(self) -> float | None:
        """Twice the covariance as the batches show it, chance included."""
        return self._left_of(self.total_rms if self.shown_rms is None else self.shown_rms)

    def _left_of(self, rms: float) -> float | None:
        return None if self.curve_rms is None else rms**2 - self.curve_rms**2 - self.conversion_rms**2


@dataclass(frozen=True, slots=True, kw_only=True)
class GeometryFigures:
    """One geometry with its best programme, or why it has none. Counts are of all trial batches together."""

    geometry: str
    refused: str = ""  # why it could not be searched or compared; "" where it was
    programme: Programme | None = None
    error: ErrorParts | None = None
    within_tolerance: Promise | None = None  # share of judged batches with every target inside
    n_units: int = 0  # batches that judged it
    n_measured: int = 0  # of them with a truth in the target's geometry; the others' was converted
    within_test_cv: float | None = None  # of its specimens, pooled over ages
    cost: float | None = None
    preparation_cost: float | None = None  # part of it: end preparation of all specimens
    n_made: int = 0
    machine_minutes: float = 0.0  # breaking the specimens of the curve
    n_visits: int = 0
    n_moulds: int = 0
    litres: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GeometryOption(GeometryFigures):
    """The same beside the others."""

    is_recommended: bool


class GeometryReason(StrEnum):
    """Why one geometry was taken."""

    ONLY_ONE = "the only one that could be judged"
    CHEAPEST_ENOUGH = "the cheapest that is good enough"
    CHEAPEST_TIED = "none is good enough; the cheapest of those as good as the best"


@dataclass(frozen=True, slots=True, kw_only=True)
class GeometryAnswer:
    """Which specimen to cast, and what strength that is."""

    target_geometry: str
    options: tuple[GeometryOption, ...]  # in the order of the plan
    conversions: tuple[ConversionFigures, ...]  # to the target's geometry, in that order
    because: GeometryReason

    @property
    def recommended(self) -> GeometryOption:
        """The one that everything else on the answer is about."""
        return next(option for option in self.options if option.is_recommended)

    @property
    def curve_conversion(self) -> CurveConversion | None:
        """As an issued curve carries it; None where nothing is converted."""
        found, error = self.conversion, self.recommended.error
        return None if found is None or error is None else CurveConversion.of(found, rms=error.conversion_rms)

    @property
    def conversion(self) -> ConversionFigures | None:
        """Of the recommended geometry; None where nothing is converted."""
        chosen = self.recommended.geometry
        return next((one for one in self.conversions if one.from_geometry == chosen), None)
