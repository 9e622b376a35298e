"""``test-ages``: the program. A new command is one file and one line in `COMMANDS`."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Annotated

import typer
from typer.main import get_command

from planner import __version__
from planner.cli.boundary import run
from planner.cli.check import check
from planner.cli.curve import curve
from planner.cli.minimum import minimum
from planner.cli.options import with_groups
from planner.cli.price import price
from planner.cli.recommend import recommend
from planner.cli.score import score
from planner.cli.start import start
from planner.cli.sweep import sweep

PROGRAM = "test-ages"
QUESTIONS, AFTER, RECORDS = "Questions", "After casting", "Plans and records"
COMMANDS = (
    (recommend, QUESTIONS),
    (score, QUESTIONS),
    (price, QUESTIONS),
    (minimum, QUESTIONS),
    (curve, AFTER),
    (sweep, QUESTIONS),
    (check, RECORDS),
    (start, RECORDS),
)

app = typer.Typer(
    name=PROGRAM,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for command, panel in COMMANDS:
    app.command(rich_help_panel=panel)(with_groups(command))


def _tell_version(is_wanted: bool) -> None:
    if is_wanted:
        typer.echo(f"{PROGRAM}, version {__version__}")
        raise typer.Exit


@app.callback()
def about(
    _version: Annotated[
        bool, typer.Option("--version", metavar="", callback=_tell_version, is_eager=True, help="Tell the version.")
    ] = False,
) -> None:
    """Chooses the ages at which to break specimens for a strength-maturity calibration.

    Begin with 'test-ages start FOLDER', then 'test-ages recommend FOLDER/plan.toml'.

    Exit codes: 0 done, 2 bad input or usage, 3 no schedule satisfies the plan.
    """


test_ages = get_command(app)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the program and leave with its exit code."""
    sys.exit(run(test_ages, arguments, program=PROGRAM))


if __name__ == "__main__":
    main()
