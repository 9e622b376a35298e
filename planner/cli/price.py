"""``test-ages price``: what knowing the strength costs, what it risks, and what else one could buy."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from planner.cli.answering import answer_question
from planner.cli.options import CastTimes, Computing, PlanFile, flag

Full = Annotated[bool, flag("--full", "Print every line of the estimate, the risk and the days, not only the answer.")]


def price(plan: PlanFile, computing: Computing, casts: CastTimes = None, is_full: Full = False) -> None:
    """Say what the calibration costs, what more would buy, what may go wrong, and how your schedule compares.

    With --cast holidays and nights cost what the calendar makes of them, and curves have their dates. With --out the
    estimate is written as estimate.html and estimate.xlsx.
    """
    from planner.questions.asking import price as compute

    if computing.is_json and is_full:
        raise typer.TyperException("--json prints the whole document: leave out --full.")
    answer_question(plan, partial(compute, cast=casts or ()), computing, is_full=is_full)
