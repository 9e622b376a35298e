"""How long the testing machines take for the specimens of one age, and how many the permitted window holds."""

from __future__ import annotations

import math

from planner.terms.plan.settings import Laboratory
from planner.terms.plan.tolerances import age_tolerances

ROUNDING = 1e-9  # 4 breaks of 2.4 minutes fill a window of 9.6


def minutes_needed(n_specimens: int, laboratory: Laboratory) -> float:
    """How long the breaks of one age take: as many rounds as the machines need."""
    return math.ceil(n_specimens / laboratory.machines) * laboratory.minutes_per_break


def window_minutes(age_h: float, laboratory: Laboratory) -> float | None:
    """How long the permitted window of an age is; None where the age tolerances do not cover it."""
    deviation_h = age_tolerances(laboratory.age_tolerances).deviation_h(age_h)
    return None if deviation_h is None else 2.0 * 60.0 * deviation_h


def most_specimens(age_h: float, laboratory: Laboratory) -> int | None:
    """Most specimens that can be broken within the permitted window of an age.

    None where that is no limit: the plan does not say how long a break takes, or its age tolerances do not cover
    the age.
    """
    minutes = window_minutes(age_h, laboratory)
    if minutes is None or not laboratory.is_break_time_stated:
        return None
    return laboratory.machines * math.floor(minutes / laboratory.minutes_per_break + ROUNDING)
