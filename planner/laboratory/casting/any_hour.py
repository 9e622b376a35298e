"""Attendances of a schedule where no laboratory hours are given: one a calendar day, so the casting hour decides."""

from __future__ import annotations

import numpy as np

from planner.laboratory.clock.opening_hours import SECONDS_PER_DAY, SECONDS_PER_HOUR
from planner.terms.schedule import Schedule


def most_visits_at_any_hour(schedule: Schedule) -> int:
    """Most calendar days that the breaks can fall on, whatever the hour of casting.

    Their number changes only where a break passes midnight, so each of these moments and the second before it are
    looked at.
    """
    ages_s = np.rint(np.array(schedule.ages_h) * SECONDS_PER_HOUR).astype(np.int64)
    midnights_s = -ages_s % SECONDS_PER_DAY
    castings_s = np.concatenate([midnights_s, (midnights_s - 1) % SECONDS_PER_DAY])
    days = (castings_s[:, None] + ages_s) // SECONDS_PER_DAY
    return int(max(np.unique(row).size for row in days))
