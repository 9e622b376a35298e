"""A batch that is stronger or weaker than all others of its mix at every age, beyond what they differ by.

Batches of one mix differ, so a slip of a quarter (a cube's strength for a cylinder's, a machine out of calibration)
shows only where the batch stands apart at every age and the others agree. How many sound records are
doubted and how many slips are found: `tests/read/slips/test_false_alarms.py`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from statistics import fmean, stdev

from planner.read.breaks.doubts.other_batches import Held, OtherBatches
from planner.read.parsing.findings import Findings
from planner.terms.labels import percent

APART = 1.18  # times the middle of the others, or its inverse, at every age: common practice, no source
# That a cube has about 1.25 times the strength of a cylinder: common practice, no source.
FEWEST_AGES, FEWEST_BATCHES = 3, 4
# How far the furthest of so many batches lies from the mean of the others, in their standard deviations, in one of five
# sound files: two-sided t at 0.2 / n, n - 2 degrees of freedom, times sqrt(1 + 1 / (n - 1)); recomputed in the tests.
FURTHEST = {4: 4.97, 5: 3.89, 6: 3.49, 7: 3.29, 8: 3.17, 9: 3.10, 10: 3.05, 12: 3.00, 15: 2.96, 20: 2.95, 60: 3.09}


def note_levels(file: str, cells: Mapping[str, Held], mix: str, findings: Findings) -> None:
    """Caution of batches of one mix that stand apart from all others of it at every age that all have.

    Parameters
    ----------
    cells
        The breaks of every batch of the mix, by curing and age.
    """
    ages_h = sorted(
        age for curing, age in set.intersection(*(set(held) for held in cells.values())) if curing == "standard"
    )
    if len(cells) < FEWEST_BATCHES or len(ages_h) < FEWEST_AGES:
        return
    others = OtherBatches(cells)
    shared = [("standard", age) for age in ages_h]
    level = {batch: _level([math.log(others.mean_mpa(batch, cell)) for cell in shared]) for batch in cells}
    for batch in cells:
        apart = [math.log(others.mean_mpa(batch, cell) / others.median_mpa(cell, batch)) for cell in shared]
        if not (min(apart) >= math.log(APART) or max(apart) <= -math.log(APART)):
            continue
        others_levels = [one for name, one in level.items() if name != batch]
        scatter = stdev(others_levels)
        if abs(level[batch] - fmean(others_levels)) <= furthest(len(cells)) * scatter:
            continue
        first = next(iter(cells[batch].values()))[0]
        ratios = sorted(abs(math.exp(log) - 1.0) for log in apart)
        what = f"{'stronger' if apart[0] > 0 else 'weaker'} than the other batches{f' of mix {mix}' if mix else ''}"
        findings.caution(
            "batch-apart",
            f'{file}: batch "{batch}" (from row {first.row}, {first.strength_mpa:g} MPa) is {what} at every '
            f"age, by {percent(ratios[0], digits=0)} to {percent(ratios[-1], digits=0)}; those differ by "
            f"{percent(scatter, digits=0)} (standard deviation). Look for another size or shape, machine or mix (a "
            "cube has about 1.25 times the strength of a cylinder): correct its strengths or name its mix where there "
            "is one, else leave it.",
        )


def furthest(n_batches: int) -> float:
    """Give the distance that the furthest of so many batches passes by chance in one of five files."""
    return FURTHEST[max(number for number in FURTHEST if number <= n_batches)]


def _level(logs: Sequence[float]) -> float:
    """Mean log strength over the older half of the ages, where batches that are only slow have caught up."""
    return fmean(logs[len(logs) // 2 :])
