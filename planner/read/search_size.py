"""Plans that ask for more schedules than can be searched, found before anything is computed."""

from __future__ import annotations

import math

import numpy as np

from planner.choices.count_choices import MOST_CHOICES, count_choices, too_many
from planner.read.parsing.findings import Findings
from planner.terms.plan.settings import Settings
from planner.terms.records import Records


def check_search_size(file: str, settings: Settings, records: Records, findings: Findings) -> None:
    """Refuse a plan whose surely offered ages alone allow too many schedules.

    What the records leave out of the list is known only once they are tabulated; the search counts again then.
    """
    offered_h = np.array(_surely_offered(settings, records))
    if offered_h.size == 0:
        return
    n_choices = count_choices(offered_h, settings.choices, settings.budget)
    if n_choices > MOST_CHOICES:
        findings.problem(file, too_many(n_choices, offered_h.size), column="choices.ages")


def _surely_offered(settings: Settings, records: Records) -> list[float]:
    """Candidate ages that no later step can take off the list [h], rising."""
    limits = settings.choices
    latest_h = math.inf if settings.budget.latest_age_h is None else settings.budget.latest_age_h
    ages_h = [age for age in limits.ages_h if settings.final_set_h <= age <= latest_h]
    if not records.breaks:
        return ages_h if limits.least_strength_mpa == 0 else []
    weakest: dict[float, float] = {}
    for item in records.breaks:
        if item.curing == "standard":
            weakest[item.age_h] = min(item.strength_mpa, weakest.get(item.age_h, math.inf))
    return [age for age in ages_h if weakest.get(age, -math.inf) >= limits.least_strength_mpa]
