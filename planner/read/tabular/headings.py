"""Which heading is which column: spellings, synonyms, misspellings."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from typing import NamedTuple

from planner.read.parsing.findings import Findings
from planner.read.parsing.nearest_name import is_slip
from planner.terms.labels import listed


class Column(NamedTuple):
    """A column that a reader knows."""

    note: str  # what it holds, for people
    also: tuple[str, ...] = ()  # other headings that mean it


Synonyms = Mapping[str, Column]  # by canonical heading

_STRENGTH_UNIT = re.compile(r"n\s*[/_ ]\s*mm\s*(?:2|²|\^2)")
_DEGREE = re.compile(r"(?:°|º|deg(?:rees?)?\.?[\s_]*)(?=[cf]\b)")


def normalise_heading(heading: str) -> str:
    """Write a heading in the one form in which it is compared: ``Strength (N/mm²)`` -> ``strength_mpa``."""
    text = _STRENGTH_UNIT.sub("mpa", heading.strip().lower().replace("_", " "))
    text = _DEGREE.sub("", text)
    return re.sub(r"[^\w]+", "_", text).strip("_")


def known_headings(synonyms: Synonyms) -> frozenset[str]:
    """List every normalised heading that a reader knows."""
    return frozenset(synonyms) | {word for column in synonyms.values() for word in column.also}


def n_known_headings(headings: Iterable[str], known: Collection[str]) -> int:
    """Count the headings that a reader knows."""
    return sum(normalise_heading(heading) in known for heading in headings)


def match_headings(
    file: str,
    headings: tuple[str, ...],
    synonyms: Synonyms,
    findings: Findings,
    *,
    header_row: int | None = None,
) -> dict[str, int]:
    """Find the position of each known column. Headings that are not known are left alone.

    Returns
    -------
    dict
        Canonical column -> position. A column that stands twice is a problem and keeps the first.
    """
    canonical = {word: name for name, column in synonyms.items() for word in (name, *column.also)}
    positions: dict[str, int] = {}
    for position, heading in enumerate(headings):
        name = canonical.get(normalise_heading(heading))
        if name is None:
            continue
        if name in positions:
            findings.problem(
                file,
                f'The headings "{headings[positions[name]]}" and "{heading}" both mean {name}. Keep one of them.',
                row=header_row,
                column=heading,
            )
            continue
        positions[name] = position
    return positions


def report_slips(
    file: str,
    headings: tuple[str, ...],
    synonyms: Synonyms,
    absent: Collection[str],
    findings: Findings,
) -> set[str]:
    """Refuse headings that can only be misspellings of a column that is not there.

    Returns
    -------
    set
        The columns so accounted for; their absence need not be reported again.
    """
    known = known_headings(synonyms)
    meant: set[str] = set()
    for heading in headings:
        given = normalise_heading(heading)
        if not given or given in known:
            continue
        for name in absent:
            if any(is_slip(given, word) for word in (name, *synonyms[name].also)):
                findings.problem(
                    file,
                    f'The heading "{heading}" is not known; the nearest known is "{name}". Rename the '
                    "column, or remove it if it is something else.",
                    column=heading,
                )
                meant.add(name)
                break
    return meant


def missing_text(name: str, headings: Iterable[str]) -> str:
    """Word the absence of a column."""
    return f'There is no column "{name}". The headings are: {listed(h or "(blank)" for h in headings)}.'
