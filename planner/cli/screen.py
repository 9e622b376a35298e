"""Standard output for results, standard error for progress and messages."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from rich.console import Console

    from planner.report.text.blocks import Section


class Shown(Protocol):
    """What can be printed."""

    def json(self) -> str:
        """One document."""

    def account(self, *, is_full: bool) -> tuple[Section, ...]:
        """Sections to read."""


Progress = Callable[[int, int, str], None]
PIPED_WIDTH = 100


def result_console() -> Console:
    """The console for results: coloured only on a terminal, 100 columns wide in a pipe."""
    from rich.console import Console

    is_terminal = sys.stdout.isatty()
    width = None if is_terminal or "COLUMNS" in os.environ else PIPED_WIDTH
    return Console(file=sys.stdout, width=width, highlight=False, markup=False, emoji=False)


def say_written(paths: tuple[Path, ...]) -> None:
    """Name the files that were written, on standard error."""
    for path in paths:
        print(f"Written: {path}", file=sys.stderr)


def print_answer(answer: Shown, *, is_json: bool = False, is_full: bool = True) -> None:
    """Print an answer as one JSON document, or as an account; the first screens of it where it is not full."""
    if is_json:
        sys.stdout.write(answer.json())
        return
    from planner.report.screens.terminal import print_sections

    print_sections(answer.account(is_full=is_full), result_console())


@contextmanager
def shown_progress() -> Iterator[Progress]:
    """Show how far the work is and how long it still takes; silent where standard error is not a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    console = Console(file=sys.stderr, highlight=False, markup=False, emoji=False)
    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
    )
    with Bars(*columns, console=console, transient=True, disable=not console.is_terminal) as bars:
        task = bars.add_task("reading", total=None)

        def progress(done: int, total: int, what: str) -> None:
            bars.update(task, completed=done, total=total, description=what)

        yield progress
