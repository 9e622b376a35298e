"""Why no clause is drafted, or only an interim one."""

from __future__ import annotations

from planner.terms.labels import percent

INTERIM_DRAWN = (
    "no batch of this mix was broken at enough of these ages, so nothing is known of how far off its curve reads"
)
INTERIM_FEW = "with fewer than two batches no schedule can be judged"
EXTRAPOLATED = (
    "no allowed programme that keeps the target has a break on both sides of every target, so it would rest on "
    "extrapolation. Offer earlier (or later) candidate ages."
)


def extrapolated_words(share: float) -> str:
    """Too many checks lie outside the span of the breaks."""
    return (
        f"{percent(share, digits=0)} of the checks of a target lie outside the span of the breaks, so it would "
        "rest on extrapolation. Offer earlier (or later) candidate ages."
    )
