"""Which specimens of a batch a curve is fitted to, and which tell the truth it is held against: never the same.

A batch whose truth comes from site-cured companions has one view. Where the truth must come from the standard-cured
specimens of an age that may also be broken, the batch has one view for each way of halving that cell, and its
errors are averaged over them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

from planner.terms.labels import age_label
from planner.terms.problems import Caution
from planner.terms.records import Break
from planner.terms.results.check_condition import CheckCondition, TruthSource

MOST_SPLITS = 6  # ways of halving a cell that are averaged: all of them for four specimens
FEWEST_TO_SPLIT = 4
IN_THE_ROOM = CheckCondition(TruthSource.STANDARD_CURED)


class Truth(NamedTuple):
    """Specimens that one reading is held against."""

    target: int  # position of the target age
    specimens: list[Break]
    condition: CheckCondition


@dataclass(frozen=True, slots=True)
class Parted:
    """One way of parting the specimens of one batch: a view."""

    batch: str
    fit_cells: dict[float, list[Break]]  # by age [h]
    checks: list[Truth]


def parted(
    batch: str,
    cells: dict[float, list[Break]],
    site: dict[tuple[float, str], list[Break]],
    targets: tuple[float, ...],
    candidates: set[float],
    cautions: list[Caution],
) -> list[Parted]:
    """Views of one batch; none, and a caution, where a target has no truth.

    Parameters
    ----------
    cells
        Standard-cured breaks by age [h].
    site
        Site-cured breaks by age [h] and placement.
    targets, candidates
        Ages [h] that are predicted, and that may be broken.
    """
    fixed: list[Truth] = []
    split_targets: list[int] = []
    fit_cells = dict(cells)
    for position, target in enumerate(targets):
        companions = {key: items for key, items in site.items() if key[0] == target}
        if companions:
            fixed += [
                Truth(position, items, CheckCondition(TruthSource.SITE_CURED, place))
                for (_age, place), items in sorted(companions.items())
            ]
        elif target not in cells:
            cautions.append(
                Caution(
                    "batch-not-checked",
                    f"Batch {batch} was not broken at {age_label(target)} and cannot judge a choice; "
                    "it is left out. Break companions at every target age.",
                )
            )
            return []
        elif len(cells[target]) >= FEWEST_TO_SPLIT and target in candidates:
            split_targets.append(position)
        else:
            fixed.append(Truth(position, cells[target], IN_THE_ROOM))
            fit_cells.pop(target, None)
    if not split_targets:
        return [Parted(batch, fit_cells, fixed)]
    return [
        _split_view(batch, fit_cells, fixed, [(position, targets[position]) for position in split_targets], r)
        for r in range(MOST_SPLITS)
    ]


def _split_view(
    batch: str,
    cells: dict[float, list[Break]],
    fixed: list[Truth],
    split_targets: list[tuple[int, float]],
    which: int,
) -> Parted:
    """One way of halving the cells at the target ages; the ways are spread evenly over all there are."""
    fit_cells = dict(cells)
    checks = list(fixed)
    for position, target in split_targets:
        items = cells[target]
        ways = list(combinations(range(len(items)), len(items) // 2))
        truth = ways[which * len(ways) // MOST_SPLITS]
        fit_cells[target] = [item for i, item in enumerate(items) if i not in truth]
        checks.append(Truth(position, [items[i] for i in truth], IN_THE_ROOM))
    return Parted(batch, fit_cells, checks)
