"""What a laboratory might forbid: breaks at the weekend, breaks outside hours, many visits."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from planner.laboratory.casting.casting_hours import schedule_costs
from planner.terms.arrays import AnyArray, BoolArray
from planner.terms.plan.settings import Laboratory, ProgrammeSettings

MIDNIGHT = dt.time(0, 0)
WEEKDAYS_ONLY = (0, 1, 2, 3, 4)
VISITS_TRIED = (4, 3, 2)
NOTHING_BESIDE = ProgrammeSettings(instrumented=0)

Constraint = tuple[str, BoolArray]


def laboratory_constraints(
    specimens: AnyArray, ages_h: AnyArray, laboratory: Laboratory | None
) -> tuple[Constraint, ...]:
    """Name each constraint, and which schedules can obey it at some casting hour of the week.

    Parameters
    ----------
    specimens
        At every age of every schedule, 0 where it has none, ``(n_schedules, n_ages)``.
    ages_h
        Those ages, rising [h].
    laboratory
        None: always open, so only weekends and visits can bind. Breaks move within their permitted windows.
    """
    ages = tuple(float(age) for age in ages_h)
    has_age = specimens > 0
    own_hours = laboratory or Laboratory()
    round_the_clock = replace(
        own_hours, opens=MIDNIGHT, closes=MIDNIGHT, days=WEEKDAYS_ONLY, casting_hours=own_hours.hours_of_casting
    )
    weekdays = schedule_costs(has_age, specimens, ages, round_the_clock, None, NOTHING_BESIDE)
    found: list[Constraint] = [("no break at a weekend", weekdays.n_outside == 0)]
    own = schedule_costs(has_age, specimens, ages, laboratory, None, NOTHING_BESIDE)
    if laboratory is not None:
        found.append(("no break outside laboratory hours", own.n_outside == 0))
    found += [(f"at most {most} visits", own.n_visits <= most) for most in VISITS_TRIED]
    return tuple(found)
