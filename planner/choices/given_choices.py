"""Schedules that somebody wrote down, as choices over the recorded ages."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.labels import age_label, schedule_label
from planner.terms.problems import InputError, Problem
from planner.terms.schedule import Schedule

Positions = tuple[int, ...]


def extra_choices(
    schedules: Sequence[Schedule], ages_h: FloatArray, *, must_fit: bool = False
) -> list[tuple[Positions, tuple[int, ...]] | None]:
    """Find the positions of each schedule's ages; None for one with an age that no batch was broken at.

    Raises
    ------
    InputError
        With `must_fit`, naming every age that is not in the records.
    """
    found: list[tuple[Positions, tuple[int, ...]] | None] = []
    problems: list[Problem] = []
    for schedule in schedules:
        missing = [age for age in schedule.ages_h if not np.any(np.isclose(ages_h, age))]
        if missing:
            problems.append(
                Problem(
                    "schedule",
                    f'"{schedule_label(schedule)}" breaks at {", ".join(age_label(age) for age in missing)}, but no '
                    f"standard-cured specimen was broken then. Recorded ages: "
                    f"{', '.join(age_label(float(age)) for age in ages_h)}.",
                )
            )
            found.append(None)
        else:
            positions = tuple(int(np.argmin(np.abs(ages_h - age))) for age in schedule.ages_h)
            found.append((positions, schedule.specimens))
    if must_fit and problems:
        raise InputError(problems)
    return found
