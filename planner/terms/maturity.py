"""Which maturity method, with which constant."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

MaturityMethod = Literal["equivalent age", "temperature-time", "age"]


@dataclass(frozen=True, slots=True)
class MaturitySetting:
    """A maturity method with its constant.

    Maturity is carried as hours at the reference temperature for every method, so that curves and
    their bounds mean the same thing whichever method made the abscissa: the temperature-time factor
    is divided by (reference - datum). Predictions do not depend on that scale.
    """

    method: MaturityMethod
    constant: float = 0.0  # Q [K] for equivalent age, datum temperature [C] for temperature-time
    reference_c: float = 20.0  # temperature at which an hour counts as an hour [C]

    def __post_init__(self) -> None:
        if self.method == "equivalent age" and not 0 < self.constant < math.inf:
            raise ValueError(f"Q must be finite and above 0 K, given {self.constant:g}.")
        if self.method == "temperature-time" and not -math.inf < self.constant < self.reference_c:
            raise ValueError(
                f"The datum temperature must be finite and below the reference {self.reference_c:g} C, "
                f"given {self.constant:g} C."
            )

    def __str__(self) -> str:
        if self.method == "equivalent age":
            return f"equivalent age, Q {self.constant:g} K, reference {self.reference_c:g} C"
        if self.method == "temperature-time":
            return f"temperature-time, datum {self.constant:g} C"
        return "age"
