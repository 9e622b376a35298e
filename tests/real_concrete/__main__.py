"""``python -m tests.real_concrete``: print what the advice is worth on published mixes."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from tests.real_concrete.data import mix_sets
from tests.real_concrete.study import learning, study
from tests.real_concrete.table import EXPLAINED, curve_lines, late_age_lines, learning_table, main_table, outlying_lines
from tests.statistics.recording import recorded

N_TOLD = (3, 5, 8, 12, 20, 40)


def main() -> None:
    """Results on standard output, progress on standard error."""
    parser = argparse.ArgumentParser(prog="python -m tests.real_concrete", description=__doc__)
    parser.add_argument("--splits", type=int, default=50, help="halvings of every set (default 50)")
    parser.add_argument("--learning-splits", type=int, default=20, help="draws behind the learning curve; 0: none")
    asked = parser.parse_args()
    started = time.perf_counter()
    command = f"python -m tests.real_concrete --splits {asked.splits} --learning-splits {asked.learning_splits}"
    with recorded(command, Path(__file__).parent / "RESULTS.md", is_markdown=True):
        _print_all(asked.splits, asked.learning_splits)
    _say(f"done in {time.perf_counter() - started:.0f} s")


def _print_all(n_splits: int, n_learning: int) -> None:
    sets = mix_sets()
    cases = tuple(study(sets, n_splits=n_splits, progress=_say))
    print(EXPLAINED.format(n_splits=n_splits), main_table(cases), sep="\n\n", flush=True)
    for title, lines in (
        ("Which curve wins where", curve_lines(cases)),
        ("Do late ages help", late_age_lines(cases)),
        ("Mixes outside the stated 80 % quantile", outlying_lines(cases)),
    ):
        print(f"\n### {title}\n", *(f"- {line}" for line in lines), sep="\n", flush=True)
    if n_learning:
        print("\n### How many mixes are needed (ratios to the best in hindsight, mean (median))\n")
        largest = sets[0]
        found = [
            item
            for target_h in largest.targets_h
            for item in learning(largest, target_h, n_told=N_TOLD, n_splits=n_learning, progress=_say)
        ]
        print(learning_table(found))


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
