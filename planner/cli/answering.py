"""Commands that compute one answer: it is written where a folder is named, and printed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.cli.options import Computing
from planner.cli.screen import print_answer, say_written, shown_progress

if TYPE_CHECKING:
    from planner.questions.answer import Answer


def answer_question(
    plan: Path, compute: Callable[..., Answer[Any]], computing: Computing, *, is_full: bool = True
) -> None:
    """Read the plan, compute, write the files into the folder where one is named, and print.

    Parameters
    ----------
    compute
        Takes the plan with `n_draws`, `seed`, `workers` and `progress`.
    is_full
        Whether the whole account is printed, where there is a shorter one.
    """
    from planner.read import load_plan
    from planner.report.documents.folder import check_folder

    out = computing.out
    if out is not None:
        check_folder(out)
    inputs = load_plan(plan, allow_outside=computing.is_outside_allowed)
    with shown_progress() as progress:
        answer = compute(inputs, **computing.work, progress=progress)
    try:
        if out is not None:
            say_written(answer.write(out))
    finally:  # a full disk must not cost the reader the answer
        print_answer(answer, is_json=computing.is_json, is_full=is_full)
