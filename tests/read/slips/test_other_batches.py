"""What the other batches have, against a plain look at each of them."""

from __future__ import annotations

from statistics import fmean, median

import numpy as np
import pytest

from planner.read.breaks.doubts.other_batches import Cell, OtherBatches
from planner.terms.records import Break

CELLS: tuple[Cell, ...] = (("standard", 6.0), ("standard", 24.0), ("site", 24.0), ("standard", 72.0))


def _batches(seed: int) -> dict[str, dict[Cell, list[Break]]]:
    """One to seven batches, cells left out here and there, strengths in whole MPa so that many are equal."""
    generator = np.random.default_rng(seed)
    drawn: dict[str, dict[Cell, list[Break]]] = {}
    for name in "ABCDEFG"[: generator.integers(1, 8)]:
        kept = [cell for cell in CELLS if generator.random() < 0.75] or [CELLS[0]]
        drawn[name] = {
            cell: [
                Break(
                    batch=name,
                    mix="",
                    curing="site" if cell[0] == "site" else "standard",
                    age_h=cell[1],
                    tested_h=cell[1],
                    strength_mpa=float(generator.integers(10, 14)),
                )
                for _ in range(generator.integers(1, 4))
            ]
            for cell in kept
        }
    return drawn


@pytest.mark.parametrize("seed", range(60))
def test_others_are_those_that_a_plain_look_finds(seed: int) -> None:
    batches = _batches(seed)
    asked = OtherBatches(batches)
    for name, held in batches.items():
        others = [other for other_name, other in batches.items() if other_name != name]
        assert asked.n_others == len(others)
        assert asked.had_by_all_others(name) == {
            cell
            for cell in CELLS
            if all(cell in other for other in others) and any(cell in b for b in batches.values())
        }
        for cell in CELLS:
            having = [other[cell] for other in others if cell in other]
            assert asked.n_having(cell, name) == len(having)
            assert asked.most_breaks(cell, name) == max(map(len, having), default=0)
            if having:
                means = [fmean(item.strength_mpa for item in items) for items in having]
                assert asked.median_mpa(cell, name) == median(means)
        for fewest in (1, 2):
            wanted = [
                fmean(item.strength_mpa for item in items)
                / median(fmean(item.strength_mpa for item in other[cell]) for other in others if cell in other)
                for cell, items in held.items()
                if sum(cell in other for other in others) >= fewest
            ]
            assert asked.ratios(name, fewest=fewest) == wanted
