"""Rows that stand twice in one table, and strengths that somebody filled in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from planner.read.parsing.findings import Findings
from planner.terms.labels import age_label, listed
from planner.terms.records import Break

FEWEST_REPEATED = 3  # rows in a row that equal an earlier run: by accident about once in 10,000 tables to 0.1 MPa
FEWEST_EQUAL = 6  # breaks at one age, all alike
FEWEST_BATCHES = 3  # that they come from


def note_repeated_rows(file: str, breaks: Sequence[Break], findings: Findings) -> None:
    """Caution of rows pasted twice: they count as further specimens and make scatter and bounds too small."""
    runs = _runs([(item.batch, item.curing, item.age_h, item.strength_mpa, item.placement) for item in breaks])
    texts = [
        f"rows {breaks[again].row} to {breaks[again + n - 1].row} equal rows {breaks[first].row} to "
        f"{breaks[first + n - 1].row}"
        for first, again, n in runs
    ]
    if texts:
        findings.caution(
            "rows-repeated",
            f"{file}: {listed(texts, most=4)}. Both count, as further specimens. Remove what was pasted twice; a "
            "column "
            '"specimen" tells specimens apart.',
        )


def note_equal_at_an_age(file: str, breaks: Sequence[Break], findings: Findings) -> None:
    """Caution of an age at which every specimen of every batch has one strength: no concrete breaks so."""
    held: dict[tuple[str, float], list[Break]] = defaultdict(list)
    for item in breaks:
        held[item.curing, item.age_h].append(item)
    texts = [
        f"{len(items)} {curing} breaks at {age_label(age_h)} are {items[0].strength_mpa:.4g} MPa (rows "
        f"{listed((item.row for item in items), most=4)})"
        for (curing, age_h), items in held.items()
        if len(items) >= FEWEST_EQUAL
        and len({item.batch for item in items}) >= FEWEST_BATCHES
        and len({item.strength_mpa for item in items}) == 1
    ]
    if texts:
        findings.caution(
            "equal-at-an-age",
            f"{file}: {listed(texts, most=4)}, in every batch alike. Where a required strength or mean was filled in, "
            "give each specimen its own.",
        )


def _runs(keys: Sequence[object]) -> list[tuple[int, int, int]]:
    """Runs that equal an earlier one and do not touch it: place of the first, of the second, and length."""
    places: dict[object, list[int]] = defaultdict(list)
    found: list[tuple[int, int, int]] = []
    at = 0
    while at < len(keys):
        n_best, first_best = 0, 0
        for first in places[keys[at]][:FEWEST_EQUAL]:
            n = 0
            while at + n < len(keys) and first + n < at and keys[first + n] == keys[at + n]:
                n += 1
            if n > n_best:
                n_best, first_best = n, first
        if n_best >= FEWEST_REPEATED and len(set(keys[at : at + n_best])) > 1:
            found.append((first_best, at, n_best))
            at += n_best
        else:
            places[keys[at]].append(at)
            at += 1
    return found
