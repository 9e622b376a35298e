"""The part that a schedule plays beside others."""

from __future__ import annotations

from enum import StrEnum


class ChoiceRole(StrEnum):
    """Why a schedule is shown; the value is what it is called."""

    RECOMMENDED = "recommended"
    BEST = "best"  # lowest mean loss
    ENOUGH = "enough"  # fewest specimens that keep the assurance
    TIED = "tied"
    NEXT_BEST = "next best"
    CUSTOMARY = "customary"
    EQUAL_GAIN = "equal gain"
    COMPARED = "as compared"  # the plan's own [[compare]]
    ASKED_ABOUT = "asked about"
