"""Where the advice asks for less than a standard, the full account names the standard and its counts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.report.accounts.full_account import recommendation_account
from planner.report.text.plain_blocks import plain_sections
from planner.terms.schedule import Schedule
from tests.report.invented_result import invented_recommendation

FIVE = (6.0, 12.0, 24.0, 168.0, 672.0)


@pytest.mark.parametrize(
    ("schedule", "is_told"),
    [
        (Schedule(FIVE, (3, 3, 3, 3, 3)), False),  # ASTM C1074: 15 cylinders at five ages (memory)
        (Schedule(FIVE, (3, 3, 3, 3, 2)), True),
        (Schedule(FIVE[:4], (4, 4, 4, 4)), True),
    ],
)
def test_the_standard_is_named_where_less_is_asked(schedule: Schedule, *, is_told: bool) -> None:
    advice = invented_recommendation()
    advice = replace(advice, recommended=replace(advice.recommended, schedule=schedule))
    text = " ".join(plain_sections(recommendation_account(advice)).split())
    said = (
        f"ASTM C1074 asks for 15 specimens at 5 ages of a batch (from memory), this schedule has "
        f"{schedule.n_specimens} at {schedule.n_ages}."
    )
    assert (said in text) == is_told
