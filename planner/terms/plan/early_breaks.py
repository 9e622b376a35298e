"""What every later pour may break before it is read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

PourReading = Literal["records", "records and trial", "rescaled"]

EarlyCuring = Literal["standard", "site"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PourBreaks:
    """Early breaks of all the pours that a calibration serves."""

    n_pours: int
    n_specimens: int  # of each pour


@dataclass(frozen=True, slots=True, kw_only=True)
class Pours:
    """Later pours as the plan foresees them."""

    early_ages_h: tuple[float, ...]  # ages at which a pour may break specimens of its own [h], rising
    specimens_per_age: tuple[int, int] = (1, 2)  # fewest and most at an early age
    most_specimens: int = 4  # of one pour
    curing: EarlyCuring = "standard"  # site: beside the pour, each break at its own maturity
    number: int | None = None  # pours that the calibration serves
