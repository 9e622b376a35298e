"""What one batch alone has where all others agree: an age with digits exchanged, another curing, twice the breaks.

All of it may be meant, so it is cautioned, with the edit that would put it right.
"""

from __future__ import annotations

from planner.read.breaks.doubts.other_batches import Held, OtherBatches
from planner.read.parsing.findings import Findings
from planner.terms.labels import age_label, listed

# Bounds below: common practice, no source.
FEWEST_OTHERS = 2
FEWEST_AGES = 3
FEWEST_EQUAL = 6  # breaks of one strength over several ages


def note_lone_cells(file: str, batch: str, mix: OtherBatches, findings: Findings) -> None:
    """Caution of cells of a batch that stand where all others of its mix have a cell which it lacks."""
    if mix.n_others < FEWEST_OTHERS:
        return
    held = mix.batches[batch]
    lone = [cell for cell in held if not mix.n_having(cell, batch)]
    for curing, age_h in sorted(mix.had_by_all_others(batch) - set(held)) if lone else ():
        for other_curing, other_age_h in lone:
            rows = listed(item.row for item in held[other_curing, other_age_h])
            if other_curing == curing and sorted(f"{other_age_h:g}") == sorted(f"{age_h:g}"):
                findings.caution(
                    "age-of-one-batch",
                    f'{file}: batch "{batch}" alone has breaks at {other_age_h:g} h (rows {rows}) and none at '
                    f"{age_h:g} h, which all others have. Were the digits exchanged? Then write {age_h:g} h.",
                )
            elif other_curing != curing and other_age_h == age_h:
                findings.caution(
                    "curing-of-one-batch",
                    f'{file}: batch "{batch}" alone has {other_curing} breaks at {age_label(age_h)} (rows {rows}) and '
                    f"no {curing} ones, which all others have. Correct the curing where it is a slip.",
                )
    _note_twice(file, batch, mix, findings)
    _note_equal(file, batch, held, findings)


def _note_twice(file: str, batch: str, mix: OtherBatches, findings: Findings) -> None:
    """Twice the breaks of every other batch at every age: two batches under one name."""
    held = mix.batches[batch]
    shared = [cell for cell in held if cell[0] == "standard" and mix.n_having(cell, batch) == mix.n_others]
    if len(shared) >= FEWEST_AGES and all(len(held[cell]) >= 2 * mix.most_breaks(cell, batch) for cell in shared):
        first = held[shared[0]][0]
        findings.caution(
            "twice-the-breaks",
            f'{file}: batch "{batch}" (from row {first.row}) has twice the standard-cured breaks of every other batch '
            "at every age. Are these two batches under one name? Then name them apart.",
        )


def _note_equal(file: str, batch: str, held: Held, findings: Findings) -> None:
    """One strength at every age: filled down, not broken."""
    strengths = [item.strength_mpa for items in held.values() for item in items]
    if len(held) >= FEWEST_AGES and len(strengths) >= FEWEST_EQUAL and len(set(strengths)) == 1:
        first = next(iter(held.values()))[0]
        findings.caution(
            "one-strength",
            f'{file}: all {len(strengths)} breaks of batch "{batch}" (from row {first.row}) are {first.strength_mpa:g} '
            f"MPa, at {len(held)} ages. Where a column was filled down, give every break its own strength.",
        )
