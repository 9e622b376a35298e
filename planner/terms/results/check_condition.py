"""What a reading is held against."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class TruthSource(StrEnum):
    """Where the specimens come from whose strength is taken for true."""

    SITE_CURED = "site-cured"
    STANDARD_CURED = "standard-cured"
    BOTH = "site-cured and standard-cured"  # a strength reached between one of either
    DRAWN = "drawn"


@dataclass(frozen=True, slots=True)
class CheckCondition:
    """How the concrete of one check was cured."""

    source: TruthSource
    place: str = ""  # where on site, or at which temperature; "" where there is one only

    def __str__(self) -> str:
        return f"{self.source} ({self.place})" if self.place else str(self.source)
