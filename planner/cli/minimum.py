"""``test-ages minimum``: the least that has to be broken, and a draft clause that asks for it."""

from __future__ import annotations

from planner.cli.answering import answer_question
from planner.cli.options import Computing, PlanFile


def minimum(plan: PlanFile, computing: Computing) -> None:
    """Say which break ages must be there for every target, how many, and draft a clause."""
    from planner.questions.asking import minimum as compute

    answer_question(plan, compute, computing)
