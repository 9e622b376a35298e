"""Whole commands in this process: a start of the program costs three seconds, so only what is about starts pays it."""

from __future__ import annotations

import io
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass

import pytest

from planner.cli.main import main


@dataclass(frozen=True, slots=True)
class Ended:
    """What a command left behind."""

    code: int
    out: str
    err: str


def run_here(*arguments: object) -> Ended:
    """Run a command to its end; no traceback may be shown."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    assert "Traceback" not in err.getvalue()
    return Ended(left.value.code, out.getvalue(), err.getvalue())
