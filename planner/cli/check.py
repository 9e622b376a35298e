"""``test-ages check``: read the files, list every problem, tell what the records hold. Computes nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from .options import AllowOutside, PlanFile, text

if TYPE_CHECKING:
    from ..terms.settings import Plan

TIDY_FILES = ("breaks.csv", "temperatures.csv")


TidyFolder = Annotated[
    Path | None,
    text(
        "--tidy",
        "FOLDER",
        "Also write what was understood as plain tables here, one row a break and one a reading.",
    ),
]


def check(plan: PlanFile, folder: TidyFolder = None, allow_outside: AllowOutside = False) -> None:
    """Read the plan and its tables, list every problem and tell what the records hold."""
    from planner.evidence.record_summary import tell_story
    from planner.report.accounts.records_account import story_account
    from planner.report.screens.terminal import print_sections

    from ..read import check_plan, tidy
    from ..terms.problems import InputError
    from .screen import result_console, say_written

    inputs, problems = check_plan(plan, allow_outside=allow_outside)
    if inputs is None:
        raise InputError(problems)
    if folder is not None:
        _check_target(inputs, plan, folder)
    story = tell_story(inputs.records, target_ages_h=inputs.settings.target.ages_h)
    print_sections(story_account(story, title=inputs.settings.title), result_console())
    if folder is not None:
        say_written(tidy(inputs, folder))


def _check_target(inputs: Plan, plan: Path, folder: Path) -> None:
    """Refuse a folder that cannot be written, or where the records themselves stand."""
    from planner.report.documents.folder import check_folder

    from ..terms.problems import InputError, Problem

    check_folder(folder)
    sources = {(plan.parent / name).resolve() for name, _ in inputs.inputs}
    taken = [folder / name for name in TIDY_FILES if (folder / name).resolve() in sources]
    if taken:
        text = "The records were read from this file; it is not overwritten. Choose another folder."
        raise InputError(Problem(file=str(path), text=text) for path in taken)
