"""What the laboratory has already broken, and the temperatures its concrete went through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.terms.arrays import FloatArray
from planner.terms.problems import Caution

Curing = Literal["standard", "site", "heat", "match", "insulated", "sealed"]
CURINGS: tuple[Curing, ...] = ("standard", "site", "heat", "match", "insulated", "sealed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """One specimen broken."""

    batch: str  # concrete cast together
    mix: str  # its recipe; "" where the records do not say
    curing: Curing
    age_h: float  # nominal age since age zero [h]
    tested_h: float  # actual age since age zero [h]; equals age_h where only the nominal age is known
    strength_mpa: float
    geometry: str = ""  # shape and size, "" where the records do not say
    placement: str = ""  # which temperature record serves it, where batch and curing have several
    specimen: str = ""  # label
    conversion_cv: float = 0.0  # how far off its strength may be for having been converted from another geometry
    void: str = ""  # a reason: listed and counted, not used
    row: int | None = None  # row in its file, header is row 1
    maturity: float | None = None  # as a logger gave it, in the unit of the plan's maturity function
    required_mpa: float | None = None  # strength asked of the pour that night
    cast_us: int | None = None  # when a pour was cast [microseconds since 1970]; orders site checks


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CuringRecord:
    """Temperatures that the concrete of one batch went through in one curing (and placement)."""

    batch: str
    curing: Curing
    placement: str  # "" where batch and curing have one record only
    elapsed_h: FloatArray  # since age zero [h], strictly rising, shape (n_readings,)
    temperature_c: FloatArray  # [C], shape (n_readings,)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Records:
    """Everything read about earlier batches, in canonical units, checked."""

    breaks: tuple[Break, ...]  # usable ones, in file order
    curing_records: tuple[CuringRecord, ...] = ()
    voided: tuple[Break, ...] = ()  # taken out by their own `void` reason
    cautions: tuple[Caution, ...] = ()  # what was read but looks odd: gaps, outlying breaks, assumptions
    has_mix_column: bool = True
    has_curing_column: bool = True
    age_zero: str = ""  # "water added", "moulded" or "placed"; "" where the records do not say

    @property
    def batches(self) -> tuple[str, ...]:
        """Batches in order of first appearance."""
        return tuple(dict.fromkeys(item.batch for item in self.breaks))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GivenRecords:
    """Breaks that come after the plan: of trial batches, of a pour, of site checks."""

    file: str  # as the user wrote it
    records: Records
    inputs: tuple[tuple[str, str], ...] = ()  # (file name, "sha256:...") of everything read
