"""Counts of the tunnel plan on fresh batches: ``python -m tests.statistics.tunnel_counts``.

The recommended counts are held against equal counts for no more money, at the same ages and with the same curve;
and against what the same rule recommends, at whatever ages, when every age must have as many specimens as every
other. All are judged by their true error on fresh batches of the inventing script, for the plan's own records and
for those of other seeds.
"""

from __future__ import annotations

import argparse
import math
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from shutil import copy

from planner.pipeline import recommend
from planner.read import load_plan
from planner.terms.labels import percent
from planner.terms.plan.settings import Plan
from planner.terms.problems import NoScheduleError
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.schedule import Schedule
from scenarios.catalogue import TUNNEL_SEGMENTS
from scenarios.writing import write_programme
from tests.statistics.broken import Broken
from tests.statistics.fresh_batches import told
from tests.statistics.recording import recorded
from tests.statistics.runway import broken_of, settings_of

PLAN = Path(__file__).parents[2] / "scenarios" / "tunnel-segments" / "plan.toml"
JUDGE_SEED = 911
OTHER_SEEDS = tuple(range(11, 61))
EQUAL_COUNTS = (2, 3)
RECOMMENDED = "recommended"


def equal_counts(plan: Plan, most_cost: float) -> RatedChoice | None:
    """The lowest score among the recommendations with one count at every age and within the money."""
    found = []
    for count in EQUAL_COUNTS:
        choices = replace(plan.settings.choices, specimens_per_age=(count, count))
        budget = replace(plan.settings.budget, cost=most_cost)
        try:
            alone = replace(plan, settings=replace(plan.settings, choices=choices, budget=budget))
            found.append(recommend(alone, n_draws=20).recommended)
        except NoScheduleError:
            continue
    return min(found, key=lambda choice: choice.score, default=None)


def fresh_segments(n_batches: int, plan: Plan) -> Broken:
    """Fresh batches that judge."""
    return broken_of(
        TUNNEL_SEGMENTS, n_batches, JUDGE_SEED, settings_of(plan),
        target_h=plan.settings.target.ages_h[0], conditions=("casting hall",),
    )  # fmt: skip


def same_ages(plan: Plan, recommended: RatedChoice) -> RatedChoice | None:
    """The recommended choice with the largest equal count that costs no more."""
    ages_h = recommended.schedule.ages_h
    schedules = tuple(Schedule(ages_h, (count,) * len(ages_h)) for count in EQUAL_COUNTS)
    compared = recommend(replace(plan, settings=replace(plan.settings, compare=schedules)), n_draws=20).compared
    costs = {choice.schedule: choice.cost for choice in compared}
    assert recommended.cost is not None
    kept = [schedule for schedule in schedules if (costs.get(schedule) or math.inf) <= recommended.cost]
    return replace(recommended, schedule=kept[-1], cost=costs[kept[-1]]) if kept else None


def judged(plan: Plan, judge: Broken) -> dict[str, tuple[RatedChoice, float]]:
    """The recommended and its rivals, each with its true RMS error."""
    recommended = recommend(plan, n_draws=20).recommended
    assert recommended.cost is not None
    rows = {
        RECOMMENDED: recommended,
        "same ages, equal counts": same_ages(plan, recommended),
        "any ages, equal counts": equal_counts(plan, recommended.cost),
    }
    return {label: (choice, judge.rms_of(choice)) for label, choice in rows.items() if choice is not None}


def summary(rounds: list[dict[str, tuple[RatedChoice, float]]]) -> list[str]:
    """How the recommended counts did against each rival, over all rounds that have one."""
    lines = []
    for rival in sorted({label for found in rounds for label in found} - {RECOMMENDED}, reverse=True):
        pairs = [(found[RECOMMENDED], found[rival]) for found in rounds if rival in found]
        ours, theirs = ([side[at][1] for side in pairs] for at in (0, 1))
        costs = [sum(side[at][0].cost or 0.0 for side in pairs) / len(pairs) for at in (0, 1)]
        n_same = sum(own == other for own, other in zip(ours, theirs, strict=True))
        n_better = sum(own < other for own, other in zip(ours, theirs, strict=True))
        lines.append(
            f"  {rival:<24} mean {percent(sum(theirs) / len(pairs), digits=2)}, {costs[1]:.0f}; recommended "
            f"{percent(sum(ours) / len(pairs), digits=2)}, {costs[0]:.0f}: better in {n_better}, the same in {n_same}, "
            f"worse in {len(pairs) - n_same - n_better} of {len(pairs)}"
        )
    return lines


def plan_of_seed(folder: Path, seed: int) -> Plan:
    """The plan with the records of another seed, through the files."""
    write_programme(folder, TUNNEL_SEGMENTS, seed)
    copy(PLAN, folder / PLAN.name)
    return load_plan(folder / PLAN.name)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser(description="Judge the tunnel plan's counts on fresh batches.")
    parser.add_argument("--fresh", type=int, default=2000, help="fresh batches that judge (2000)")
    parser.add_argument("--seeds", type=int, nargs="*", default=OTHER_SEEDS, help="other seeds to invent")
    parser.add_argument("--each", action="store_true", help="print the rows of every seed")
    given = parser.parse_args(arguments)
    own = load_plan(PLAN)
    judge = fresh_segments(given.fresh, own)
    print(f"target 14 h in the casting hall; {given.fresh} fresh batches; true RMS error, cost, choice")
    print("the plan's own records")
    _print(judged(own, judge))
    rounds = []
    for seed in given.seeds:
        with tempfile.TemporaryDirectory() as folder:
            rounds.append(judged(plan_of_seed(Path(folder), seed), judge))
        if given.each:
            print(f"seed {seed}")
            _print(rounds[-1])
    if rounds:
        print(f"the records of {len(rounds)} other seeds, {min(given.seeds)} to {max(given.seeds)}")
        print("\n".join(summary(rounds)))


def _print(rows: dict[str, tuple[RatedChoice, float]]) -> None:
    for label, (choice, rms) in rows.items():
        print(f"  {label:<24}{percent(rms, digits=2):>8}{choice.cost:>7.0f}  {told(choice)}", flush=True)


if __name__ == "__main__":
    with recorded(" ".join(["python -m tests.statistics.tunnel_counts", *sys.argv[1:]])):
        main()
