"""Commands that compute one answer: it is written as one document, and printed as an account or that document."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import typer

from .compiling import compile_first
from .options import Computing

if TYPE_CHECKING:
    from planner.report.text.blocks import Section

Answer = TypeVar("Answer")


def answer_question(
    plan: Path,
    compute: Callable[..., Answer],
    computing: Computing,
    *,
    file_name: str,
    document_of: Callable[[Answer], dict[str, Any]],
    account_of: Callable[[Answer], tuple[Section, ...]],
) -> None:
    """Read the plan, compute, write the document into the folder where one is named, and print.

    Parameters
    ----------
    compute
        Takes the plan with `n_draws`, `seed`, `workers` and `progress`.
    file_name
        Of the document in the folder.
    document_of, account_of
        Turn the answer into plain values, and into sections to read.
    """
    from planner.report.documents.folder import check_folder, write_files
    from planner.report.documents.recommendation_document import write_json
    from planner.report.screens.terminal import print_sections

    from ..read import load_plan
    from .screen import result_console, say_written, shown_progress

    out = computing.out
    if out is not None:
        check_folder(out)
    inputs = load_plan(plan, allow_outside=computing.is_outside_allowed)
    with shown_progress() as progress:
        compile_first(progress)
        answer = compute(inputs, **computing.work, progress=progress)
    document = write_json(document_of(answer))
    try:
        if out is not None:
            say_written(write_files(out, {file_name: document.encode("utf-8")}))
    finally:  # a full disk must not cost the reader the answer
        if computing.is_json:
            typer.echo(document, nl=False)
        else:
            print_sections(account_of(answer), result_console())
