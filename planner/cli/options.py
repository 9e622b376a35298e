"""Options that several commands share, in groups; each group is what a command gets as one value."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass
from functools import wraps
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

MOST_DRAWS, MOST_WORKERS = 100_000, 1_024
LONGEST_SHOWN = 24  # characters of what was given

WORK, LONG = "How it is computed", "Work of hours"


def flag(name: str, help_text: str, panel: str | None = None) -> Any:
    """An option that takes nothing."""
    return typer.Option(name, metavar="", help=help_text, rich_help_panel=panel)


def number(name: str, help_text: str, *, least: int, most: int | None = None, panel: str | None = None) -> Any:
    """An option that takes a whole number; more than `most` is refused as more than can be worked with."""

    def read(given: str | int) -> int:
        try:
            number = int(given)
        except ValueError:
            number = least - 1
        if number < least:
            raise typer.BadParameter(f"Given {str(given)[:LONGEST_SHOWN]}; write a whole number, {least} or more.")
        if most is not None and number > most:
            text = f"{number:,}" if len(str(number)) <= LONGEST_SHOWN else "This"
            raise typer.BadParameter(
                f"{text} is more than the {most:,} that can be worked with. Write a smaller number."
            )
        return number

    return typer.Option(name, metavar="N", parser=read, help=help_text, rich_help_panel=panel)


def text(name: str, metavar: str, help_text: str, panel: str | None = None) -> Any:
    """An option that takes a text, a time or a path, named `metavar` in the help."""
    return typer.Option(name, metavar=metavar, help=help_text, rich_help_panel=panel, show_default=False)


def argument(metavar: str, help_text: str) -> Any:
    """What a command cannot do without."""
    return typer.Argument(metavar=metavar, help=help_text, show_default=False)


PlanFile = Annotated[Path, argument("PLAN", "The plan, a .toml file.")]
AllowOutside = Annotated[bool, flag("--allow-outside", "Read files that a plan names outside its own folder.")]
AsJson = Annotated[bool, flag("--json", "Print one JSON document and nothing else.")]
OutFolder = Annotated[
    Path | None, text("--out", "FOLDER", "Write the result files here; without it nothing is written.")
]
CastTimes = Annotated[
    list[str] | None,
    text(
        "--cast",
        "TIME",
        'Date the breaks: "2027-03-01 22:00", or a window "2027-03-01 18:00/2027-03-02 04:00". '
        "Once for each trial batch.",
    ),
]
Seed = Annotated[int, number("--seed", "Seed of the draws; the ranking does not depend on it.", least=0, panel=WORK)]
Draws = Annotated[
    int,
    number("--draws", "Resampled sets of breaks behind every resampled figure.", least=1, most=MOST_DRAWS, panel=WORK),
]
Workers = Annotated[
    int | None, number("--workers", "Threads at work; default: all cores.", least=1, most=MOST_WORKERS, panel=WORK)
]
Resume = Annotated[bool, flag("--resume", "Go on with a run into the same --out folder that was stopped.", LONG)]
ClusterAddress = Annotated[
    str | None,
    text(
        "--cluster",
        "ADDRESS",
        "Work on the machines of a Dask scheduler, like tcp://host:8786, instead of threads. It and whoever reaches "
        "its port can run any code there, and sees the records: name only one you trust, over open networks by "
        "tls://. Answers are equal to the last bit on one kind of processor.",
        LONG,
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Computing:
    """What every command that computes may be told."""

    out: OutFolder = None
    is_json: AsJson = False
    is_outside_allowed: AllowOutside = False
    seed: Seed = 1
    n_draws: Draws = 400
    workers: Workers = None

    @property
    def work(self) -> dict[str, Any]:
        """What the computation itself is told."""
        return {"n_draws": self.n_draws, "seed": self.seed, "workers": self.workers}


@dataclass(frozen=True, slots=True, kw_only=True)
class LongWork:
    """What commands that may work for hours may be told besides."""

    is_resumed: Resume = False
    address: ClusterAddress = None

    def check(self, out: Path | None) -> None:
        """Refuse ``--resume`` without a folder to go on in."""
        if self.is_resumed and out is None:
            raise typer.TyperException("--resume goes on with what stands in a folder: name it with --out.")


def with_groups(command: Callable[..., Any]) -> Callable[..., Any]:
    """Show typer every field of the option groups as an option of its own; the command gets the groups."""
    signature = inspect.signature(command)
    hints = get_type_hints(command, include_extras=True)
    groups = {name: kind for name, kind in hints.items() if is_dataclass(kind) and isinstance(kind, type)}
    shown: list[inspect.Parameter] = []
    for name, parameter in signature.parameters.items():
        if name not in groups:
            shown.append(parameter.replace(annotation=hints[name], kind=inspect.Parameter.KEYWORD_ONLY))
            continue
        options = get_type_hints(groups[name], include_extras=True)
        shown += [
            inspect.Parameter(
                field.name, inspect.Parameter.KEYWORD_ONLY, default=field.default, annotation=options[field.name]
            )
            for field in fields(groups[name])
        ]

    @wraps(command)
    def call(**given: Any) -> Any:
        for name, kind in groups.items():
            given[name] = kind(**{field.name: given.pop(field.name) for field in fields(kind)})
        return command(**given)

    paragraphs = inspect.cleandoc(command.__doc__ or "").split("\n\n")
    call.__doc__ = "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)  # a window breaks its lines
    call.__signature__ = signature.replace(parameters=shown)  # type: ignore[attr-defined]
    call.__annotations__ = {parameter.name: parameter.annotation for parameter in shown}
    return call
