"""``python -m tests.real_concrete.quantile_bound``: how often published mixes keep the bound on eight in ten.

As many mixes are told as the bound needs, or more, and all the others are judged.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from tests.real_concrete.data import HOURS_PER_DAY, mix_sets
from tests.real_concrete.realised import Realised
from tests.real_concrete.study import Judged, halves, judge
from tests.statistics.recording import recorded

N_TOLD = (14, 20, 26)  # 14 are the fewest that carry a bound
FEWEST_JUDGED = 10


def judged_splits(n_splits: int) -> Iterator[tuple[str, float, int, int, list[Judged]]]:
    """Set, target, mixes told, mixes judged, and what each split gave."""
    for mixes in mix_sets():
        n_mixes = len(mixes.records)
        for target_h in mixes.targets_h:
            realised = Realised(mixes, target_h)
            for n_told in N_TOLD:
                if n_mixes - n_told >= FEWEST_JUDGED:
                    splits = (halves(n_mixes, seed, n_told=n_told) for seed in range(1, n_splits + 1))
                    rows = [judge(realised, told, others) for told, others in splits]
                    yield mixes.name, target_h, n_told, n_mixes - n_told, rows


def row_of(name: str, target_h: float, n_told: int, n_judged: int, rows: Sequence[Judged]) -> str:
    """One line of the table."""
    kept = float(np.mean([bool(row.is_bound_kept) for row in rows]))
    error = np.sqrt(kept * (1.0 - kept) / len(rows))
    low, middle, high = np.quantile([row.bound_over_realised or np.nan for row in rows], [0.1, 0.5, 0.9])
    return (
        f"| {name} | {target_h / HOURS_PER_DAY:g} d | {n_told} | {n_judged} | {kept:.2f} +- {error:.2f} "
        f"| {middle:.2f} ({low:.2f} to {high:.2f}) |"
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table; progress on standard error."""
    parser = argparse.ArgumentParser(prog="python -m tests.real_concrete.quantile_bound", description=__doc__)
    parser.add_argument("--splits", type=int, default=50, help="splits of every set by seed (default 50)")
    asked = parser.parse_args(arguments)
    print(
        f"{asked.splits} splits by seed of every set and target. Kept: share of splits in which eight in ten of the "
        "mixes that were not told stayed below the stated 95 % bound on that quantile, with its Monte-Carlo error "
        "(splits of one set share mixes). Bound over realised: median (10th to 90th percentile).\n"
    )
    print("| ages | target | mixes told | mixes judged | kept | bound over realised |")
    print("|---|---|---|---|---|---|")
    every: list[Judged] = []
    for found in judged_splits(asked.splits):
        print(row_of(*found), flush=True)
        every += found[-1]
    kept = np.mean([bool(row.is_bound_kept) for row in every])
    print(f"\nOver all {len(every)} splits the bound was kept in {kept:.3f}.")


if __name__ == "__main__":
    command = " ".join(["python -m tests.real_concrete.quantile_bound", *sys.argv[1:]])
    with recorded(command, Path(__file__).parent / "RESULTS.md", is_markdown=True):
        main()
