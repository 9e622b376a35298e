"""What a casting time says where the plan names no laboratory."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from planner.laboratory.casting.casting_times import castings_at
from planner.laboratory.clock.clock_words import no_laboratory
from planner.terms.schedule import Schedule
from tests.report.sheets.test_workbook import SETTINGS

AT_TEN = dt.datetime(2027, 3, 1, 22)
SCHEDULE = Schedule((12.0, 24.0, 72.0), (3, 3, 3))


def test_without_a_laboratory_the_zone_and_the_hours_are_said_to_be_assumed() -> None:
    (assumed,) = castings_at(((AT_TEN, AT_TEN),), SCHEDULE, replace(SETTINGS, laboratory=None))
    (named,) = castings_at(((AT_TEN, AT_TEN),), SCHEDULE, SETTINGS)
    assert no_laboratory("ASTM C39") in assumed.warnings
    assert no_laboratory("ASTM C39") not in named.warnings
    assert assumed.is_always_open
    assert not named.is_always_open
