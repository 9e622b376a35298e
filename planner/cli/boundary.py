"""Where every failure becomes a sentence and an exit code. Nobody who runs a command sees a traceback.

Exit codes: 0 done, 2 bad input or usage, 3 the inputs are fine but no schedule satisfies them,
130 interrupted, 1 a fault of the program itself.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable, Sequence
from typing import Any

import typer

from planner.terms.exit_codes import BAD_INPUT, DONE, FAULT, INTERRUPTED, NO_SCHEDULE
from planner.terms.problems import InputError, NoScheduleError

SHOWN_PROBLEMS = 200
TRACEBACK_SWITCH = "TEST_AGES_TRACEBACK"


def run(command: Any, arguments: Sequence[str] | None, *, program: str) -> int:
    """Run a command and return its exit code; whatever goes wrong is told on standard error."""
    _forgive_encodings()
    try:
        returned = command.main(args=arguments, prog_name=program, standalone_mode=False)
        sys.stdout.flush()
    except (BrokenPipeError, SystemExit) as error:
        if isinstance(error, SystemExit) and not isinstance(error.__context__, BrokenPipeError):
            raise
        _silence_stdout()  # the libraries that print leave in their own way when the reader has gone
        return DONE
    except BaseException as error:
        return _told(error)
    if returned == INTERRUPTED:
        return _tell_interrupted(KeyboardInterrupt())
    return returned if isinstance(returned, int) else DONE


def _told(error: BaseException) -> int:
    for kind, tell in _TELLERS:
        if isinstance(error, kind):
            return tell(error)
    raise error


def _tell_usage(error: BaseException) -> int:
    assert isinstance(error, typer.TyperException)
    message = error.format_message()
    if not message:  # no command was named: the help has been printed
        return BAD_INPUT
    context = getattr(error, "ctx", None)
    if context is None:
        _say(message)
    else:
        _say(f"{context.get_usage()}\n{message}\n'{context.command_path} --help' explains all options.")
    return BAD_INPUT


def _tell_input(error: BaseException) -> int:
    assert isinstance(error, InputError)
    from planner.report.text.refusal_words import told_problems
    from planner.report.text.words import clean

    n_problems = len(error.problems)
    _say("The input cannot be used:" if n_problems == 1 else f"The input cannot be used, {n_problems} problems:")
    for line in told_problems(error)[:SHOWN_PROBLEMS]:
        _say(f"  {clean(line, limit=600)}")
    if n_problems > SHOWN_PROBLEMS:
        _say(f"  and {n_problems - SHOWN_PROBLEMS} more. Correct these first.")
    return BAD_INPUT


def _tell_no_schedule(error: BaseException) -> int:
    from planner.report.text.words import clean

    _say(f"No schedule satisfies the plan. {clean(str(error))}")
    return NO_SCHEDULE


def _tell_interrupted(_: BaseException) -> int:
    _say("Interrupted. No file was left half written.")
    return INTERRUPTED


def _tell_memory(_: BaseException) -> int:
    _say("There is not enough memory. Offer fewer ages or fewer specimens per age, or use --workers 1.")
    return FAULT


def _tell_system(error: BaseException) -> int:
    assert isinstance(error, OSError)
    where = f"{error.filename}: " if error.filename else ""
    _say(f"{where}{error.strerror or error}. Check that the path exists and may be read and written.")
    return BAD_INPUT


def _tell_fault(error: BaseException) -> int:
    if os.environ.get(TRACEBACK_SWITCH):
        traceback.print_exception(error)
    _say(
        f"This is a fault of the program, not of your input: {type(error).__name__}: {error}. "
        f"Set {TRACEBACK_SWITCH}=1 and run again to see where it happened, and report it."
    )
    return FAULT


_TELLERS: tuple[tuple[type[BaseException], Callable[[BaseException], int]], ...] = (
    (typer.Exit, lambda error: getattr(error, "exit_code", DONE)),
    (typer.Abort, _tell_interrupted),
    (KeyboardInterrupt, _tell_interrupted),
    (typer.TyperException, _tell_usage),
    (InputError, _tell_input),
    (NoScheduleError, _tell_no_schedule),
    (MemoryError, _tell_memory),
    (OSError, _tell_system),
    (Exception, _tell_fault),
)


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _forgive_encodings() -> None:
    """A character that a stream cannot carry becomes a question mark instead of a failure."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _silence_stdout() -> None:
    """The reader of the pipe has gone: let the interpreter's last flush go nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
