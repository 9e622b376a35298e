"""``test-ages check``: read the files, list every problem, tell what the records hold. Computes nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner.cli.options import AllowOutside, argument, flag, text
from planner.cli.screen import print_answer, say_written

MaybePlan = Annotated[Path | None, argument("PLAN", "The plan, a .toml file.")]
TidyFolder = Annotated[
    Path | None,
    text(
        "--tidy",
        "FOLDER",
        "Also write what was understood as plain tables here, one row a break and one a reading.",
    ),
]
Columns = Annotated[bool, flag("--columns", "List the columns that the tables may have; no plan is read.")]


def check(
    plan: MaybePlan = None,
    folder: TidyFolder = None,
    has_columns: Columns = False,
    is_outside_allowed: AllowOutside = False,
) -> None:
    """Read the plan and its tables, list every problem and tell what the records hold."""
    from planner.questions.asking import check as tell
    from planner.questions.asking import table_columns

    if has_columns:
        print_answer(table_columns())
        return
    if plan is None:
        raise typer.TyperException("Missing argument 'PLAN'. Name a plan, or ask for --columns.")
    answer = tell(plan, is_outside_allowed=is_outside_allowed)
    if folder is not None:
        answer.check_target(folder)
    print_answer(answer)
    if folder is not None:
        say_written(answer.write(folder))
