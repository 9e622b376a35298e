"""The parts an account is made of, whatever it is then written on: screen, mail, ticket."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text."""

    text: str
    is_strong: bool = False  # the sentence to read if only one is read


@dataclass(frozen=True, slots=True)
class Facts:
    """Terms with what is said of them."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Bullets:
    """Statements of equal standing."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table."""

    heading: str
    is_number: bool = False
    is_wide_only: bool = False  # left out on a screen narrower than 100 characters


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under headings, every cell already in words."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    n_marked: int = 0  # rows from the top that the account is about
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeLine:
    """One row of the picture of ages."""

    label: str
    marks: tuple[tuple[float, str], ...]  # (age [h], one character)
    is_ruled: bool = True  # joined by a line


@dataclass(frozen=True, slots=True, kw_only=True)
class AgePicture:
    """Ages on a logarithmic line, a row for each schedule."""

    lines: tuple[AgeLine, ...]
    ticks_h: tuple[float, ...]  # ages named below the line [h]


class SectionId(Enum):
    """Sections that somebody asks for, whatever their heading says."""

    ANSWER = "answer"
    ENOUGH = "enough"
    CAUTIONS = "cautions"


Block: TypeAlias = Paragraph | Facts | Bullets | Table | AgePicture


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with what stands below it."""

    heading: str
    blocks: tuple[Block, ...]
    id: SectionId | None = None  # of those that a document finds or leaves out


def wide_columns_out(table: Table) -> Table:
    """The same table without the columns that only a wide screen has room for."""
    kept = [place for place, column in enumerate(table.columns) if not column.is_wide_only]
    return Table(
        columns=tuple(table.columns[place] for place in kept),
        rows=tuple(tuple(row[place] for place in kept) for row in table.rows),
        n_marked=table.n_marked,
        note=table.note,
    )
