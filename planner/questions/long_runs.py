"""Work of hours: who does it, what is kept of it, and how to go on when it was stopped."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.resampling.search.executors import Cluster, Threads


@contextmanager
def long_search(out: Path | None, *, is_resumed: bool, address: str | None) -> Iterator[None]:
    """Let the searches inside the block keep finished pieces in `out` and run on the machines of a scheduler.

    The pieces are cleared away when the block ends well, and stay when it does not.
    """
    from planner.resampling.search.checkpoints import FOLDER, Checkpoints
    from planner.resampling.search.execution import surroundings

    kept = Checkpoints(out / FOLDER, is_continued=is_resumed, say=say) if out is not None else None
    with ExitStack() as stack:
        stack.enter_context(how_to_go_on(kept.folder if kept else None))
        crew: Threads | Cluster | None = None
        if address is not None:
            crew = crew_for(address, None)
            stack.enter_context(crew)
        with surroundings(crew=crew, kept=kept):
            yield
        if kept is not None:
            kept.remove()


def crew_for(address: str | None, workers: int | None) -> Threads | Cluster:
    """The workers of a scheduler, or threads of this machine where no address is given."""
    from planner.resampling.search.executors import Cluster, Threads

    return Threads(workers or os.cpu_count() or 1) if address is None else Cluster(address, say=say)


@contextmanager
def how_to_go_on(folder: Path | None) -> Iterator[None]:
    """Whatever stops the work inside the block: say that its finished part is there."""
    try:
        yield
    except BaseException:
        if folder is not None and any(path.is_file() for path in folder.rglob("*-*")):
            say(f"What is finished stands in {folder}. Run the same command with --resume to go on.")
        raise


def say(text: str) -> None:
    """Tell something on standard error."""
    print(text, file=sys.stderr, flush=True)
