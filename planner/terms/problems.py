"""What can be wrong with an input, and what a reader should be warned of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Problem:
    """One offender in an input file: where it stands, what was given, what to do."""

    file: str  # file name as the user wrote it
    text: str  # what is wrong, what was given and what to do, one or two sentences
    row: int | None = None  # row as a spreadsheet numbers it: the header is row 1
    column: str | None = None  # column heading, or dotted key in a plan

    def __str__(self) -> str:
        where = self.file
        if self.row is not None:
            where += f", row {self.row}"
        if self.column is not None:
            where += f", {self.column}" if self.row is None else f", column {self.column}"
        return f"{where}: {self.text}"


class InputError(ValueError):
    """Inputs that cannot be used. Carries every problem found, not only the first.

    `units` are those that the plan asks its outputs for, where it could be read.
    """

    def __init__(self, problems: Iterable[Problem], *, units: Literal["SI", "US"] = "SI") -> None:
        self.problems = tuple(problems)
        self.units = units
        if not self.problems:
            raise ValueError("an InputError needs at least one problem")
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NoScheduleError(Exception):
    """The inputs are fine, but no schedule satisfies them. The text says which limits to loosen."""


@dataclass(frozen=True, slots=True)
class Caution:
    """Something the reader of a result must know before using it, and what to do about it."""

    code: str  # stable, kebab-case
    text: str  # one or two sentences with the figure in them and what to do
