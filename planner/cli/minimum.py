"""``test-ages minimum``: the least that has to be broken, and a draft clause that asks for it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.answering import answer_question
from planner.cli.options import Computing, argument, flag, text

PlanOrFolder = Annotated[Path, argument("PLAN", "The plan, a .toml file; or a folder of plans: a family of mixes.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What of the least is asked, and how much of it is shown."""

    at_least: Annotated[
        str | None,
        text("--at-least", "STANDARD", 'The least programme that also has a standard\'s counts: "ASTM C1074".'),
    ] = None
    is_full: Annotated[bool, flag("--full", "Print the whole account with the clause, not only the answer.")] = False


def minimum(plan: PlanOrFolder, asked: Asked, computing: Computing) -> None:
    """Say which breaks the target needs at least, and draft a clause; of a folder, for all its mixes together.

    With --out the clause is written as clause.html and clause.docx (python-docx, extra "documents").
    """
    from planner.questions.asking import minimum as compute
    from planner.report.documents.clause_file import check_writable

    if computing.is_json and asked.is_full:
        raise typer.TyperException("--json prints the whole document: leave out --full.")
    if computing.out is not None:
        check_writable()
    answer_question(plan, partial(compute, at_least=asked.at_least or ""), computing, is_full=asked.is_full)
