"""Truths that are too weak to judge by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import fmean

from planner.evidence.record_words import truths_too_weak
from planner.terms.labels import age_label
from planner.terms.problems import Caution
from planner.terms.records import Break


@dataclass(slots=True)
class WeakTruths:
    """Truths weaker than the plan's least strength: listed and counted, used for nothing."""

    least_mpa: float
    found: list[str] = field(default_factory=list)

    def is_weak(self, items: Sequence[Break]) -> bool:
        return fmean(item.strength_mpa for item in items) < self.least_mpa

    def notes(self, batch: str, items: Sequence[Break], place: str = "") -> bool:
        """Whether the mean of these specimens is too weak; kept in the list where it is."""
        is_weak = self.is_weak(items)
        if is_weak:
            mean, where = fmean(item.strength_mpa for item in items), f" ({place})" if place else ""
            self.found.append(f"{batch} {items[0].curing}-cured{where} at {age_label(items[0].age_h)}: {mean:.3g} MPa")
        return is_weak

    def caution(self, n_left_out: int) -> Caution:
        """All of them in one."""
        return truths_too_weak(self.found, self.least_mpa, n_left_out)
