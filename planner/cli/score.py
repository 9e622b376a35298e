"""``test-ages score``: how far off a schedule would be that somebody else wrote."""

from __future__ import annotations

from typing import Annotated

from planner.cli.answering import answer_question
from planner.cli.options import Computing, PlanFile, text

ScheduleText = Annotated[
    str, text("--schedule", "SCHEDULE", 'Ages with their specimens, like "6 h x3, 1 d x3, 28 d x2".')
]


def score(plan: PlanFile, schedule: ScheduleText, computing: Computing) -> None:
    """Say how far off a given schedule would be, beside the recommendation. Not an approval."""
    from planner.questions.asking import score as compute
    from planner.read import parse_schedule

    asked = parse_schedule(schedule)
    answer_question(plan, lambda inputs, **work: compute(inputs, asked, **work), computing)
