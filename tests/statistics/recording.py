"""What a command prints, shown and kept in a results file as one section."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import sys
from collections.abc import Iterator
from pathlib import Path

from tests.statistics.results_file import RESULTS, write_section


@contextlib.contextmanager
def recorded(command: str, path: Path = RESULTS, *, is_markdown: bool = False) -> Iterator[None]:
    """Show what is printed inside, and write it under its command and the date once all of it went well.

    Parameters
    ----------
    command
        As it is typed, arguments included; the module names the section, so that a run with other
        arguments replaces it.
    path
        The results file.
    is_markdown
        The text is markdown; else it is kept as printed.
    """
    kept = io.StringIO()
    with contextlib.redirect_stdout(_Both(kept, sys.stdout)):
        yield
    text = kept.getvalue().strip()
    body = text if is_markdown else f"```text\n{text}\n```"
    name = command.removeprefix("python -m ").split()[0]
    write_section(name, f"## `{command}`\n\nMeasured on {dt.date.today().isoformat()}.\n\n{body}", path)


class _Both(io.TextIOBase):
    """Text to a buffer and to the screen."""

    def __init__(self, kept: io.StringIO, screen: object) -> None:
        self._kept, self._screen = kept, screen

    def write(self, text: str) -> int:
        self._screen.write(text)  # type: ignore[attr-defined]
        return self._kept.write(text)

    def flush(self) -> None:
        self._screen.flush()  # type: ignore[attr-defined]
