"""What one pour is read at from its own early breaks."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.terms.problems import Caution


class Unread(enum.Enum):
    """Why a pour is not read at some age."""

    STRANGER = "stranger"
    NO_BREAK_BEFORE = "no early break before it"
    RECORD_ENDS = "temperature record ends before it"
    OUTSIDE_MATURITY = "outside the maturities of the records"
    OUTSIDE_CURVE = "outside the breaks of the trial batch"
    NOT_JUDGED = "early breaks other than those judged"


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlyCell:
    """Specimens of the pour broken together."""

    age_h: float
    curing: str
    maturity_h: float
    mean_mpa: float
    n_specimens: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PourRow:
    """The pour at one target, or where its temperature record ends, in one place."""

    age_h: float
    is_target: bool  # else the end of the temperature record
    placement: str
    maturity_h: float | None  # [h at the reference temperature]; None: the record ends before
    temperature_c: float | None  # mean inside the concrete up to then [C]; None: no record
    curve_mpa: float | None  # what the issued curve alone reads; None: outside it
    strength_mpa: float | None
    interval_mpa: tuple[float, float] | None  # holds the assured share of such pours
    safe_mpa: float | None  # one-sided at the assurance; None where it is refused
    why_not: Unread | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PourTableRow:
    """One line of the table of maturities."""

    maturity_h: float
    curve_mpa: float
    strength_mpa: float
    safe_mpa: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strangeness:
    """The early means held against what earlier batches say of them."""

    distance: float  # squared standardised distance over the number of early means
    limit: float  # 99 % point of F with as many and B - 1 degrees of freedom
    n_means: int
    n_batches: int
    is_stranger: bool | None  # None: too few earlier batches to tell
    noticed_deficit: float  # missing strength that is noticed 9 times in 10, relative


@dataclass(frozen=True, slots=True, kw_only=True)
class PourAnswer:
    """One pour, read."""

    curve: IssuedCurve
    pour: str
    early: tuple[EarlyCell, ...]  # youngest first
    strangeness: Strangeness
    rows: tuple[PourRow, ...]  # targets, then the ends of the temperature records
    table: tuple[PourTableRow, ...]  # none where the pour is a stranger
    inputs: tuple[tuple[str, str], ...]  # (file, "sha256:...") of the pour
    cautions: tuple[Caution, ...]

    @property
    def is_stranger(self) -> bool:
        return self.strangeness.is_stranger is True
