"""What one more batch of breaks would do to the upper bound: the sentence."""

from __future__ import annotations

from planner.terms.labels import NO_USEFUL_BOUND, at_most_label, is_useful_bound, percent
from planner.terms.results.drawn_figures import Gain
from planner.terms.results.recommended.evidence_figures import EvidenceGrade

MOST_WAYS_SHOWN = 3


def more_words(more: tuple[Gain, ...], grade: EvidenceGrade) -> str:
    """What more breaks would do, the most useful first."""
    if not more:
        return ""
    best = more[0]
    if grade == "measured" and not is_useful_bound(best.bound_after or 0.0):
        return f"Even with one more batch like these {NO_USEFUL_BOUND}."
    if grade == "measured" and not is_useful_bound(best.bound_now or 0.0):
        return f"With one more batch like these a bound could be given: {at_most_label(best.bound_after or 0.0)}."
    if grade == "measured":
        return (
            f"One more batch like these would bring the upper bound of the own-batch error from "
            f"{percent(best.bound_now or 0.0)} to {percent(best.bound_after or 0.0)}. An age nobody has broken yet is "
            "valued by naming it in [choices] ages."
        )
    if best.spread_now is None:
        return ""
    listed = "; ".join(
        f"{gain.label} would leave {percent(gain.spread_after or 0.0, digits=0)}" for gain in more[:MOST_WAYS_SHOWN]
    )
    return (
        f"What the mix's strength at the targets may be spreads by {percent(best.spread_now, digits=0)} "
        f"(one standard deviation) now: {listed}."
    )
