"""``test-ages minimum``: the least that has to be broken, and a draft clause that asks for it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.answering import answer_question
from planner.cli.options import Computing, argument, flag, text
from planner.cli.screen import print_answer, say_written, shown_progress

PlanOrFolder = Annotated[Path, argument("PLAN", "The plan, a .toml file; or a folder of plans: a family of mixes.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What of the least is asked, and how much of it is shown."""

    at_least: Annotated[
        str | None,
        text("--at-least", "STANDARD", 'The least programme that also has a standard\'s counts: "ASTM C1074".'),
    ] = None
    is_full: Annotated[bool, flag("--full", "Print the whole account with the clause, not only the answer.")] = False


def minimum(plan: PlanOrFolder, asked: Asked, computing: Computing) -> int:
    """Say which breaks the target needs at least, and draft a clause; of a folder, for all its mixes together.

    With --out the clause is written as clause.html and clause.docx (python-docx, extra "documents").
    """
    from planner.questions.asking import minimum as compute
    from planner.report.text.needed_library import OF_CLAUSE

    if computing.is_json and asked.is_full:
        raise typer.TyperException("--json prints the whole document: leave out --full.")
    if computing.out is not None:
        OF_CLAUSE.check()
    if not plan.is_dir():
        answer_question(plan, partial(compute, at_least=asked.at_least or ""), computing, is_full=asked.is_full)
        return 0
    if asked.at_least:
        raise typer.TyperException("--at-least asks of one plan: name the plan, not its folder.")
    return _of_a_family(plan, asked, computing)


def _of_a_family(folder: Path, asked: Asked, computing: Computing) -> int:
    """Answer for a folder; the exit code is 0 where every plan has an answer, else the first other one."""
    from planner.report.documents.folder import check_folder
    from planner.sweeping.family_plans import family_minimum

    if computing.out is not None:
        check_folder(computing.out)
    with shown_progress() as progress:
        answer = family_minimum(
            folder, **computing.work, is_outside_allowed=computing.is_outside_allowed, progress=progress
        )
    try:
        if computing.out is not None:
            say_written(answer.write(computing.out))
    finally:  # a full disk must not cost the reader the answer
        print_answer(answer, is_json=computing.is_json, is_full=asked.is_full)
    return next((row.exit for row in answer.result.rows if row.exit), 0)
