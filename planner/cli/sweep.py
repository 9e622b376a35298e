"""``test-ages sweep``: many plans, or one over many targets, into one table."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from planner.cli.options import Computing, LongWork, argument, text
from planner.cli.screen import print_answer, say_written, shown_progress

Folder = Annotated[Path, argument("FOLDER", "Plans in it and below it, or one plan.")]
TargetAges = Annotated[
    str | None,
    text("--targets", "AGES", 'Each plan once for each of these targets alone, like "6 h, 12 h, 1 d, 28 d".'),
]


def sweep(folder: Folder, computing: Computing, long_work: LongWork, targets: TargetAges = None) -> int:
    """Recommend for every plan in FOLDER (or for one plan file) and put the answers into one table.

    A plan that cannot be used gets a line with the reason; the others go on. The exit code is 0 where every
    plan has an answer, else the first other one.
    """
    from planner.questions.long_runs import how_to_go_on, say
    from planner.report.documents.folder import check_folder
    from planner.resampling.search.checkpoints import FOLDER
    from planner.sweeping.kept_rows import KeptRows
    from planner.sweeping.sweep_plans import sweep as compute

    out = computing.out
    long_work.check(out)
    if out is not None:
        check_folder(out)
    kept = KeptRows(out / FOLDER if out is not None else None, is_continued=long_work.is_resumed)
    with how_to_go_on(kept.folder):
        with shown_progress() as progress:
            answer = compute(
                folder,
                targets=targets,
                **computing.work,
                is_outside_allowed=computing.is_outside_allowed,
                kept=kept,
                address=long_work.address,
                progress=progress,
            )
        if kept.n_taken:
            say(f"{kept.n_taken} of {len(answer.result)} rows were finished by an earlier run.")
        try:
            if out is not None:
                say_written(answer.write(out))
                kept.remove()
        finally:  # a full disk must not cost the reader the answer
            print_answer(answer, is_json=computing.is_json)
    return next((row.exit for row in answer.result if row.exit), 0)
