"""``test-ages score``: how far off a schedule would be that somebody else wrote."""

from __future__ import annotations

from typing import Annotated

import typer

from .compiling import compile_first
from .options import Computing, PlanFile, text

ScheduleText = Annotated[
    str, text("--schedule", "SCHEDULE", 'Ages with their specimens, like "6 h x3, 1 d x3, 28 d x2".')
]


def score(plan: PlanFile, schedule_text: ScheduleText, computing: Computing) -> None:
    """Say how far off a given schedule would be, beside the recommendation. Not an approval."""
    from planner.report.documents.folder import check_folder, write_files
    from planner.report.documents.recommendation_document import score_document, write_json
    from planner.report.screens.terminal import print_score

    from ..pipeline import score as compute
    from ..read import load_plan, parse_schedule
    from .screen import result_console, say_written, shown_progress

    out = computing.out
    if out is not None:
        check_folder(out)
    schedule = parse_schedule(schedule_text)
    inputs = load_plan(plan, allow_outside=computing.is_outside_allowed)
    with shown_progress() as progress:
        compile_first(progress)
        scored, result = compute(inputs, schedule, **computing.work, progress=progress)
    document = write_json(score_document(scored, result))
    try:
        if out is not None:
            say_written(write_files(out, {"score.json": document.encode("utf-8")}))
    finally:  # a full disk must not cost the reader the answer
        if computing.is_json:
            typer.echo(document, nl=False)
        else:
            print_score(scored, result, result_console())
