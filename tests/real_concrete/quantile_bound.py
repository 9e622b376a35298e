"""``python -m tests.real_concrete.quantile_bound``: how often published mixes keep the bound on eight in ten.

As many mixes are told as the bound needs, or more, and all the others are judged. ``--one-choice`` shows in a minute,
with one choice for all splits and no advice, how far so few splits and so few mixes can be off by luck.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import stats

from planner.resampling.errors.later_pours.later_pour import jackknife_error
from planner.terms.arrays import FloatArray
from planner.verdict.statistics.coverage_bounds import batches_needed
from planner.verdict.statistics.order_bounds import order_bound
from tests.real_concrete.data import HOURS_PER_DAY, mix_sets
from tests.real_concrete.realised import Realised
from tests.real_concrete.study import QUANTILE_SHARE, Judged, halves, judge
from tests.statistics.recording import recorded

N_TOLD = (14, 20, 26)  # 14 are the fewest that carry a bound
FEWEST_JUDGED = 10
MANY_SPLITS = 2_000
FEWER_SPLITS = 400  # without each mix
CONFIDENCE = 0.95


def kept_by_counting(
    n_told: int, n_judged: int, *, share: float = QUANTILE_SHARE, confidence: float = CONFIDENCE
) -> float:
    """Chance that the bound is kept by so many judged mixes, whatever the errors are, if all mixes are alike.

    The bound is the smallest order statistic of the told that is a bound for endlessly many mixes. A few judged ones
    keep it a little less often: it is kept where, of the smallest values of all, enough are of judged mixes.
    """
    rank = next(r for r in range(1, n_told + 1) if stats.binom.cdf(r - 1, n_told, share) >= confidence - 1e-12)
    wanted = math.ceil(share * n_judged - 1e-9)
    return float(stats.hypergeom.sf(wanted - 1, n_told + n_judged, n_judged, rank + wanted - 1))


def kept_by_one_choice(realised: Realised, n_told: int, seeds: Iterable[int]) -> float:
    """Share of splits in which the same bound is kept by one choice for all, that of the lowest RMS on all mixes.

    It is no advice, but it is quick: many splits show what the few that the command was run on would give by luck.
    """
    return float(np.mean(_kept(_of_one_choice(realised), n_told, seeds)))


def luck_of_splits(realised: Realised, n_told: int, n_splits: int) -> float:
    """Standard deviation of that share between sets of so many splits of the same mixes."""
    kept = _kept(_of_one_choice(realised), n_told, range(1, MANY_SPLITS + 1))
    sets = [np.mean(kept[at : at + n_splits]) for at in range(0, MANY_SPLITS - n_splits + 1, n_splits)]
    return float(np.std(sets, ddof=1))


def luck_of_mixes(realised: Realised, n_told: int) -> float:
    """Standard error of that share over the mixes, which all splits have in common: each mix left out in turn."""
    absolute = _of_one_choice(realised)
    seeds = range(1, FEWER_SPLITS + 1)
    without = np.array([np.mean(_kept(np.delete(absolute, mix), n_told, seeds)) for mix in range(len(absolute))])
    return float(jackknife_error(without))


def _of_one_choice(realised: Realised) -> FloatArray:
    every = range(len(realised.mixes.records))
    return np.abs(realised.of(realised.lowest(every), every))


def _kept(absolute: FloatArray, n_told: int, seeds: Iterable[int]) -> list[bool]:
    """Whether the mixes that were not told keep the bound of those that were, split by split."""
    kept = []
    for seed in seeds:
        found, others = halves(len(absolute), seed, n_told=n_told)
        bound = order_bound(absolute[found], share=QUANTILE_SHARE, confidence=CONFIDENCE)
        assert bound is not None
        kept.append(bool(np.mean(absolute[others] <= bound) >= QUANTILE_SHARE))
    return kept


@dataclass(frozen=True, slots=True)
class Row:
    """One set at one target with so many mixes told."""

    name: str
    target_h: float
    n_told: int
    n_judged: int
    judged: list[Judged]
    one_choice: float  # kept by one choice in the same splits
    one_choice_in_many: float

    @property
    def kept(self) -> float:
        return float(np.mean([bool(row.is_bound_kept) for row in self.judged]))

    @property
    def kept_in_many(self) -> float:
        """With the luck of the few splits taken out as one choice met it."""
        return self.kept - self.one_choice + self.one_choice_in_many


def judged_splits(n_splits: int, numbers: Sequence[int] = N_TOLD, days: float | None = None) -> Iterator[Row]:
    """What the splits of every set and target gave."""
    for mixes in mix_sets():
        n_mixes = len(mixes.records)
        for target_h in mixes.targets_h:
            if days is not None and target_h != days * HOURS_PER_DAY:
                continue
            realised = Realised(mixes, target_h)
            for n_told in numbers:
                if n_mixes - n_told >= FEWEST_JUDGED:
                    splits = (halves(n_mixes, seed, n_told=n_told) for seed in range(1, n_splits + 1))
                    rows = [judge(realised, found, others) for found, others in splits]
                    alone = (
                        kept_by_one_choice(realised, n_told, range(1, last + 1)) for last in (n_splits, MANY_SPLITS)
                    )
                    yield Row(mixes.name, target_h, n_told, n_mixes - n_told, rows, *alone)


def line_of(row: Row) -> str:
    """One line of the table."""
    error = np.sqrt(row.kept * (1.0 - row.kept) / len(row.judged))
    low, middle, high = np.quantile([each.bound_over_realised or np.nan for each in row.judged], [0.1, 0.5, 0.9])
    return (
        f"| {row.name} | {row.target_h / HOURS_PER_DAY:g} d | {row.n_told} | {row.n_judged} "
        f"| {row.kept:.2f} +- {error:.2f} | {row.one_choice:.2f} | {row.one_choice_in_many:.2f} "
        f"| {row.kept_in_many:.2f} | {kept_by_counting(row.n_told, row.n_judged):.2f} "
        f"| {middle:.2f} ({low:.2f} to {high:.2f}) |"
    )


def luck_lines(n_splits: int, numbers: Sequence[int]) -> Iterator[str]:
    """How often one choice keeps the bound, and how far so few splits, and the mixes themselves, can be off."""
    yield f"| ages | target | mixes told | kept in {MANY_SPLITS:,} splits | luck of {n_splits} splits | of the mixes |"
    yield "|---|---|---|---|---|---|"
    for mixes in mix_sets():
        for target_h in mixes.targets_h:
            realised = Realised(mixes, target_h)
            for n_told in (number for number in numbers if len(mixes.records) - number >= FEWEST_JUDGED):
                kept = kept_by_one_choice(realised, n_told, range(1, MANY_SPLITS + 1))
                lucks = luck_of_splits(realised, n_told, n_splits), luck_of_mixes(realised, n_told)
                yield (
                    f"| {mixes.name} | {target_h / HOURS_PER_DAY:g} d | {n_told} | {kept:.3f} | {lucks[0]:.3f} "
                    f"| {lucks[1]:.3f} |"
                )


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table; progress on standard error."""
    parser = argparse.ArgumentParser(prog="python -m tests.real_concrete.quantile_bound", description=__doc__)
    parser.add_argument("--splits", type=int, default=50, help="splits of every set by seed (default 50)")
    parser.add_argument("--told", type=int, nargs="+", default=N_TOLD, help="mixes told (default 14 20 26)")
    parser.add_argument("--target", type=float, help="one target [d]; all where left out")
    parser.add_argument("--one-choice", action="store_true", help="how much is luck, without any advice; not kept")
    asked = parser.parse_args(arguments)
    if (few := min(asked.told)) < (fewest := batches_needed(QUANTILE_SHARE, confidence=CONFIDENCE)):
        parser.error(f"the bound needs {fewest} mixes or more, given {few}")
    if asked.one_choice:
        print("\n".join(luck_lines(asked.splits, asked.told)))
        return
    print(
        f"{asked.splits} splits by seed of every set and target. Kept: share of splits in which eight in ten of the "
        "mixes that were not told stayed below the stated 95 % bound on that quantile, with its Monte-Carlo error. "
        "Splits of one set share mixes, and all rows share seeds, so that their luck is shared. One choice: the same "
        "share if one choice, that of the lowest RMS on all mixes, is taken in every split, in these splits and in "
        f"{MANY_SPLITS:,}; less luck: kept, with the difference of the two taken out. By counting: the chance whatever "
        "the errors, if all mixes are alike; few judged mixes keep a 95 % bound a little less often than endlessly "
        "many. Bound over realised: median (10th to 90th percentile).\n"
    )
    print(
        "| ages | target | mixes told | mixes judged | kept | one choice | in many splits | less luck | by counting "
        "| bound over realised |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    rows = []
    for row in judged_splits(asked.splits, asked.told, asked.target):
        print(line_of(row), flush=True)
        rows.append(row)
    every = [bool(each.is_bound_kept) for row in rows for each in row.judged]
    print(
        f"\nOver all {len(every)} splits the bound was kept in {np.mean(every):.3f}, less luck in "
        f"{np.mean([row.kept_in_many for row in rows]):.3f}."
    )


if __name__ == "__main__" and "--one-choice" in sys.argv:
    main()
elif __name__ == "__main__":
    command = " ".join(["python -m tests.real_concrete.quantile_bound", *sys.argv[1:]])
    with recorded(command, Path(__file__).parent / "RESULTS.md", is_markdown=True):
        main()
