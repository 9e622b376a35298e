"""``test-ages``: the program. A new command is one file and one line in `COMMANDS`."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import click

from .. import __version__
from .boundary import run
from .check import check
from .minimum import minimum
from .price import price
from .recommend import recommend
from .score import score
from .start import start
from .sweep import sweep

PROGRAM = "test-ages"
COMMANDS: tuple[click.Command, ...] = (recommend, score, price, minimum, sweep, check, start)


@click.group(commands={command.name or "": command for command in COMMANDS})
@click.version_option(__version__, prog_name=PROGRAM)
def test_ages() -> None:
    """Chooses the ages at which to break specimens for a strength-maturity calibration.

    Begin with 'test-ages start FOLDER', then 'test-ages recommend FOLDER/plan.toml'.
    Exit codes: 0 done, 2 bad input or usage, 3 no schedule satisfies the plan.
    """


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the program and leave with its exit code."""
    sys.exit(run(test_ages, arguments, program=PROGRAM))


if __name__ == "__main__":
    main()
