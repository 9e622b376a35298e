"""Batches that stand in the records twice, under two names.

A batch that counts twice makes bounds narrower than the concrete allows, so it is refused. A copy in another unit of
strength, rounded there, is one too.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections import defaultdict
from collections.abc import Mapping, Sequence

from planner.read.parsing.findings import Findings
from planner.terms.labels import listed
from planner.terms.records import Break

# Chance of two batches being equal by accident, given to 0.1 MPa about 1 MPa apart: .03 for a break, 1e-6 for four.
FEWEST_REPEATED = 4  # breaks, where both batches have as many
FEWEST_SHARED = 8  # where one batch has a few breaks more
LEAST_SHARE = 0.75  # of the larger batch's breaks, cured alike, that the smaller must hold
ROUNDING = 5e-4  # of a strength: what writing it in whole psi may change
Cell = tuple[str, float]  # curing, age [h]

# Cyrillic and Greek capitals that print like Latin ones
LOOK_ALIKE = dict(zip("АВЕКМНОРСТХЅІЈΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEKMHOPCTXSIJABEZHIKMNOPTYX", strict=True))
_SIGNS = re.compile(r"(?<!\d)[\s_.\-]+|[\s_.\-]+(?!\d)|\s+")
_NOUGHT = re.compile(r"(?<=\d)o")
_LEADING_NOUGHTS = re.compile(r"(?<![\d.])0+(?=\d)")


def report_copies(file: str, breaks: Sequence[Break], findings: Findings) -> None:
    """Refuse batches whose breaks are all those of another batch, in whatever order."""
    held: dict[str, list[Break]] = defaultdict(list)
    for item in breaks:
        held[item.batch].append(item)
    cells = {batch: _cells(items) for batch, items in held.items()}
    holders: dict[tuple[Cell, int], list[str]] = defaultdict(list)  # by cell and step of the logarithm of strength
    offenders: list[tuple[int, str]] = []
    for batch in sorted(held, key=lambda name: (-len(held[name]), held[name][0].row or 0)):
        if (original := _original(batch, cells, holders)) is None:
            for key in {((item.curing, item.age_h), _step(item.strength_mpa)) for item in held[batch]}:
                holders[key].append(batch)
        else:
            offenders.append((held[batch][0].row or 0, _told(held[batch], held[original])))
    findings.rows(file, "batch", offenders)


def bare_name(batch: str) -> str:
    """A name without what nobody tells two batches apart by: spaces, capitals, leading noughts, signs, look-alikes."""
    plain = "".join(LOOK_ALIKE.get(letter, letter) for letter in unicodedata.normalize("NFKC", batch)).casefold()
    between_words = _SIGNS.sub("", plain)  # 1-11 and 11-1 are two batches: a sign between figures stays
    letter_for_nought = _NOUGHT.sub("0", between_words)
    return _LEADING_NOUGHTS.sub("", letter_for_nought)


def _cells(items: Sequence[Break]) -> dict[Cell, list[float]]:
    cells: dict[Cell, list[float]] = defaultdict(list)
    for item in sorted(items, key=lambda each: each.strength_mpa):
        cells[item.curing, item.age_h].append(item.strength_mpa)
    return cells


def _step(strength_mpa: float) -> int:
    return math.floor(math.log(strength_mpa) / ROUNDING)


def _original(
    batch: str, cells: Mapping[str, Mapping[Cell, list[float]]], holders: Mapping[tuple[Cell, int], list[str]]
) -> str | None:
    """A batch at least as large that holds all breaks of this one; names that differ in spaces are told elsewhere."""
    own = cells[batch]
    n_own = sum(map(len, own.values()))
    curings = {curing for curing, _ in own}  # companions on site are often left out of a copy
    sought = (_near(cell, value, holders) for cell, values in own.items() for value in values)
    for other in min(sought, key=len):  # a holder of all holds the rarest, too
        n_other = sum(len(values) for at, values in cells[other].items() if at[0] in curings)
        fewest = FEWEST_REPEATED if n_own == n_other else max(FEWEST_SHARED, LEAST_SHARE * n_other)
        if n_own < fewest or not all(_is_held(values, cells[other].get(at, [])) for at, values in own.items()):
            continue
        if bare_name(batch) != bare_name(other):
            return other
    return None


def _near(cell: Cell, strength_mpa: float, holders: Mapping[tuple[Cell, int], list[str]]) -> list[str]:
    """Batches that have a break of nearly this strength at the cell."""
    step = _step(strength_mpa)
    return [other for at in (step - 1, step, step + 1) for other in holders.get((cell, at), ())]


def _is_held(values: Sequence[float], others: Sequence[float]) -> bool:
    """Whether every value has another one of its own among the others but for rounding; both rising."""
    left = iter(others)
    return all(any(abs(other - value) <= ROUNDING * value for other in left) for value in values)


def _told(copy: Sequence[Break], original: Sequence[Break]) -> str:
    these, those = (listed((item.row for item in items), most=4) for items in (copy, original))
    return (
        f'All {len(copy)} breaks of batch "{copy[0].batch}" (rows {these}) are those of batch "{original[0].batch}" '
        f"(rows {those}). A batch that stands twice makes every bound look better than it is: remove one of the two, "
        "or give the strengths to one digit more where both were really broken."
    )
