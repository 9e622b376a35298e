"""A schedule that somebody wrote down, held against the limits of the plan."""

from __future__ import annotations

from itertools import pairwise

from planner.terms.labels import age_label
from planner.terms.plan.settings import Settings
from planner.terms.schedule import Schedule

SAME_H = 1e-6


def beyond_limits(schedule: Schedule, settings: Settings) -> tuple[str, ...]:
    """Name every limit of the plan that a schedule does not keep, one phrase each."""
    limits, budget = settings.choices, settings.budget
    ages_h, counts = schedule.ages_h, schedule.specimens
    fewest, most = limits.specimens_per_age
    found: list[str] = []
    if sum(counts) > budget.specimens:
        found.append(f"{sum(counts)} specimens, [budget] specimens is {budget.specimens}")
    if budget.latest_age_h is not None and ages_h[-1] > budget.latest_age_h + SAME_H:
        found.append(f"a break at {age_label(ages_h[-1])}, latest_age is {age_label(budget.latest_age_h)}")
    if not limits.fewest_ages <= len(ages_h) <= limits.most_ages:
        found.append(f"{len(ages_h)} ages, the plan asks for {limits.fewest_ages} to {limits.most_ages}")
    outside = [age_label(age) for age, count in zip(ages_h, counts, strict=True) if not fewest <= count <= most]
    if outside:
        found.append(f"fewer or more specimens than specimens_per_age [{fewest}, {most}] at {', '.join(outside)}")
    absent = [age for age in limits.required_ages_h if all(abs(age - held) > SAME_H for held in ages_h)]
    if absent:
        found.append(f"no break at {', '.join(map(age_label, absent))}, which required_ages asks for")
    unlisted = [age for age in ages_h if all(abs(age - listed) > SAME_H for listed in limits.ages_h)]
    if unlisted:
        found.append(f"breaks at {', '.join(map(age_label, unlisted))}, not among [choices] ages")
    if any(age < settings.final_set_h for age in ages_h):
        found.append(f"a break before final set at {settings.final_set_h:g} h")
    if any(later - earlier < limits.minimum_gap_h - SAME_H for earlier, later in pairwise(ages_h)):
        found.append(f"breaks closer than minimum_gap, {limits.minimum_gap_h:g} h")
    return tuple(found)


def beyond_limits_words(beyond: tuple[str, ...]) -> str:
    """That a schedule somebody asked about does not keep them."""
    return f"The schedule does not keep the plan's limits: {'; '.join(beyond)}. It is scored all the same."
