"""Truths that are too weak to judge by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import fmean

from planner.terms.labels import age_label
from planner.terms.problems import Caution
from planner.terms.records import Break

MOST_SHOWN = 6


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
        shown = "; ".join(self.found[:MOST_SHOWN])
        more = len(self.found) - MOST_SHOWN
        counted = "1 truth is" if len(self.found) == 1 else f"{len(self.found)} truths are"
        lost = f" {n_left_out} of the batches then judge nothing." if n_left_out else ""
        return Caution(
            "truths-too-weak",
            f"{counted} weaker than [choices] least_strength_mpa = {self.least_mpa:g} and used as no check: {shown}"
            f"{f' and {more} more' if more > 0 else ''}.{lost} A percentage of so little strength would outweigh all "
            "others. Lower least_strength_mpa where such strengths matter.",
        )
