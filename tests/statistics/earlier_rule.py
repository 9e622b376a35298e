"""Beside the rule of commit 7ad6c62, which judged own batches alone: ``python -m tests.statistics.earlier_rule``.

``earlier_choices.csv`` (see `earlier_choices.py`) holds what that commit's own `recommend` took from the records of the
study of regret, one trial batch, at most 18 specimens, the prices of `later_regret.COSTS`. Both choices are judged on
the same fresh batches.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from planner.population import basis_of
from planner.steps.searching import Work, search_of
from planner.terms.schedule import Schedule
from tests.statistics.growth import BY_AGE, LAWS, Law
from tests.statistics.later_regret import Choice, later_quantiles, priced_programme, with_one
from tests.statistics.later_truth import later_rms
from tests.statistics.results_file import write_section

SECTION = "tests.statistics.earlier_rule"
CHOICES = Path(__file__).parent / "earlier_choices.csv"
HEAD = "| law | B | specimens, earlier rule | specimens now | saved | true later-pour RMS over the earlier rule's |"
TITLE = """## Beside the rule that judged own batches alone

`python -m tests.statistics.earlier_rule`: one trial batch; the schedules that commit 7ad6c62 recommended from the same
records, through its own code, against those recommended now. Ratio: median / 90th percentile; specimens: means; saved:
median.
"""


@dataclass(frozen=True, slots=True)
class Beside:
    """One set of records."""

    ratio: float  # true later-pour error now over that of the earlier rule
    n_specimens: int
    n_specimens_earlier: int


def earlier_choices() -> dict[tuple[str, int, int], dict[str, str]]:
    """Rows of the table by law, number of batches and seed."""
    with CHOICES.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return {(row["law"], int(row["n_batches"]), int(row["seed"])): row for row in rows}


def beside(law: Law, n_batches: int, seed: int, row: dict[str, str], *, n_fresh: int) -> Beside:
    """Choose from the same records and judge both.

    Raises
    ------
    ValueError
        Where the records are no more those that the earlier rule chose from.
    """
    plan = priced_programme(law, n_batches, seed)
    total = sum(item.strength_mpa for item in plan.records.breaks)
    if abs(total - float(row["checksum_mpa"])) > 1e-4:
        raise ValueError(f"The records of {law.name}, {n_batches} batches, seed {seed} have changed.")
    rule = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None)).programmes
    assert rule is not None
    chosen = with_one(rule).choose()
    assert chosen is not None
    matrix = rule.rule.matrix
    joint = matrix.joints[chosen.taken.joint]
    now = Choice(matrix.choices.schedule(chosen.taken.which), joint.curve, joint.weighting, joint.maturity)
    ages, counts = (tuple(map(kind, row[name].split())) for kind, name in ((float, "ages_h"), (int, "specimens")))
    earlier = Choice(Schedule(ages, counts), row["curve"], row["weighting"], BY_AGE[0])  # type: ignore[arg-type]
    return Beside(
        ratio=later_rms(law, now, 1, n_fresh=n_fresh) / later_rms(law, earlier, 1, n_fresh=n_fresh),
        n_specimens=now.schedule.n_specimens,
        n_specimens_earlier=earlier.schedule.n_specimens,
    )


def row_of(law: Law, n_batches: int, found: Sequence[Beside]) -> str:
    """One line of the table."""
    saved = np.median([1.0 - item.n_specimens / item.n_specimens_earlier for item in found])
    middle, high = later_quantiles([item.ratio for item in found])
    return (
        f"| {law.name} | {n_batches} | {np.mean([item.n_specimens_earlier for item in found]):.1f} | "
        f"{np.mean([item.n_specimens for item in found]):.1f} | {100 * saved:.0f} % | {middle:.3f} / {high:.3f} |"
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study, print its table and keep it."""
    parser = argparse.ArgumentParser(description="Today's rule beside that of commit 7ad6c62.")
    parser.add_argument("--programmes", type=int, default=60, help="sets of records of each kind (60 at most)")
    parser.add_argument("--fresh", type=int, default=500, help="fresh batches that judge (500)")
    given = parser.parse_args(arguments)
    known = earlier_choices()
    lines = [HEAD, "|" + "---|" * (HEAD.count("|") - 1)]
    for law in LAWS:
        for n_batches in (4, 8, 12):
            found = [
                beside(law, n_batches, seed, known[law.name, n_batches, seed], n_fresh=given.fresh)
                for seed in range(given.programmes)
            ]
            lines.append(row_of(law, n_batches, found))
            print(lines[-1], flush=True)
    write_section(SECTION, "\n".join([TITLE, f"{given.programmes} sets of records of each kind.\n", *lines]))


if __name__ == "__main__":
    main()
