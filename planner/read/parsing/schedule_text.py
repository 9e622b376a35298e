"""Schedules as people write them: "6 h x3, 1 d x3, 28 d x2"."""

from __future__ import annotations

import re

from planner.read.parsing.findings import shown
from planner.read.parsing.quantities import parse_duration
from planner.terms.problems import InputError, Problem
from planner.terms.schedule import Schedule

_PART = re.compile(r"\s*(?P<age>[^x×*]+?)\s*[x×*]\s*(?P<count>\d{1,6})\s*\Z", re.IGNORECASE)
_HOW = 'Write ages with their specimens like "6 h x3, 1 d x3, 28 d x2".'


def schedule_from(text: str) -> Schedule:
    """Read a schedule; ages may stand in any order.

    Raises
    ------
    ValueError
        If a part cannot be read, an age is not above zero or stands twice, or has no specimen.
    """
    counts: dict[float, int] = {}
    for part in text.replace(";", ",").split(","):
        found = _PART.match(part)
        if found is None:
            raise ValueError(f"The schedule {shown(text)} has a part {shown(part.strip())}. {_HOW}")
        age_h, count = parse_duration(found["age"]), int(found["count"])
        if age_h <= 0 or count < 1:
            raise ValueError(
                f"The schedule {shown(text)} has a part {shown(part.strip())}, but ages must be above 0 h "
                "and every age needs at least one specimen."
            )
        if age_h in counts:
            raise ValueError(
                f"The schedule {shown(text)} names the age {found['age']} twice. "
                "Give each age once, with all its specimens."
            )
        counts[age_h] = count
    ages = sorted(counts)
    return Schedule(tuple(ages), tuple(counts[age] for age in ages))


def parse_schedule(text: str) -> Schedule:
    """Read a schedule such as "6 h x3, 1 d x3".

    Raises
    ------
    InputError
        If it cannot be read.
    """
    try:
        return schedule_from(text)
    except ValueError as error:
        raise InputError([Problem("schedule", str(error))]) from error
