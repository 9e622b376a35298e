"""``test-ages price``: what knowing the strength costs, and what the next specimen buys."""

from __future__ import annotations

from planner.cli.answering import answer_question
from planner.cli.options import Computing, PlanFile


def price(plan: PlanFile, computing: Computing) -> None:
    """Say what the calibration costs, what more specimens would buy, and how your schedule compares."""
    from planner.questions.asking import price as compute

    answer_question(plan, compute, computing)
