"""Options that every computing command shares."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

Function = TypeVar("Function", bound=Callable[..., Any])

DEFAULT_SEED, DEFAULT_DRAWS = 1, 400

plan_argument = click.argument("plan", type=click.Path(path_type=Path))
json_option = click.option("--json", "is_json", is_flag=True, help="Print one JSON document and nothing else.")
outside_option = click.option(
    "--allow-outside", is_flag=True, help="Read files that a plan names outside its own folder."
)

_COMPUTING = (
    click.option(
        "--out",
        type=click.Path(path_type=Path),
        metavar="FOLDER",
        help="Write the result files here; without it nothing is written.",
    ),
    click.option(
        "--seed",
        type=click.IntRange(min=0),
        default=DEFAULT_SEED,
        show_default=True,
        help="Seed of the draws; the ranking does not depend on it.",
    ),
    click.option(
        "--draws",
        type=click.IntRange(min=1),
        default=DEFAULT_DRAWS,
        show_default=True,
        help="Resampled sets of breaks behind every resampled figure.",
    ),
    click.option("--workers", type=click.IntRange(min=1), default=None, help="Threads at work; default: all cores."),
    json_option,
    outside_option,
)

_LONG = (
    click.option(
        "--resume",
        "is_resumed",
        is_flag=True,
        help="Go on with a run into the same --out folder that was stopped.",
    ),
    click.option(
        "--cluster",
        "address",
        metavar="ADDRESS",
        help="Work on the machines of a Dask scheduler, like tcp://host:8786, instead of threads.",
    ),
)


def long_options(function: Function) -> Function:
    """Add the options of commands that may work for hours."""
    for option in reversed(_LONG):
        function = option(function)
    return function


def computing_options(function: Function) -> Function:
    """Add the options that all computing commands have."""
    for option in reversed(_COMPUTING):
        function = option(function)
    return function
