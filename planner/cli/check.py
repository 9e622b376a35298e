"""``test-ages check``: read the files, list every problem, tell what the records hold. Computes nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from .options import AllowOutside, PlanFile, text
from .screen import print_answer, say_written

TidyFolder = Annotated[
    Path | None,
    text(
        "--tidy",
        "FOLDER",
        "Also write what was understood as plain tables here, one row a break and one a reading.",
    ),
]


def check(plan: PlanFile, folder: TidyFolder = None, is_outside_allowed: AllowOutside = False) -> None:
    """Read the plan and its tables, list every problem and tell what the records hold."""
    from planner.questions.asking import check as tell

    answer = tell(plan, is_outside_allowed=is_outside_allowed)
    if folder is not None:
        answer.check_target(folder)
    print_answer(answer)
    if folder is not None:
        say_written(answer.write(folder))
