"""The demo's own plan on fresh batches: ``python -m tests.statistics.runway_programmes``.

For the shipped records and for others of the same law: the true error of what is recommended, on its own concrete
and on later pours, both targets and both nights, beside the customary schedule and the one that the own batch alone
would recommend. Says whether the shipped records are typical.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.pipeline import recommend
from planner.population import basis_of
from planner.read import load_plan
from planner.searching import Work, search_of
from planner.terms.plan.settings import Plan
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import draw_records
from tests.statistics.broken import Broken, JointChoice
from tests.statistics.later_regret import Choice
from tests.statistics.results_file import write_section
from tests.statistics.runway import CONDITIONS, FOLDER, broken_of, plan_with, settings_of

TARGETS_H = (6.0, 24.0)
JUDGE_SEED, FIRST_SEED = 909, 100
TITLE = """## The demo's plan on fresh batches

`python -m tests.statistics.runway_programmes`: true RMS errors [%], 6 h and 1 d on cool and warm nights
together; stated: the fixed programme's later-pour figure.
"""
HEAD = (
    "| records | specimens | own batch | later pour | stated | own-batch rule: specimens | own batch | later pour | "
    "customary, later pour |"
)


@dataclass(frozen=True, slots=True)
class Row:
    """True errors of one set of records."""

    name: str
    n_specimens: int
    own: float
    later: float
    stated: float
    n_specimens_own_rule: int
    own_of_own_rule: float
    later_of_own_rule: float
    later_of_customary: float

    def text(self) -> str:
        figures = (self.own, self.later, self.stated)
        others = (self.own_of_own_rule, self.later_of_own_rule, self.later_of_customary)
        return (
            f"| {self.name} | {self.n_specimens} | {' | '.join(f'{100 * value:.1f}' for value in figures)} | "
            f"{self.n_specimens_own_rule} | {' | '.join(f'{100 * value:.1f}' for value in others)} |"
        )


def true_errors(judges: Sequence[Broken], choice: JointChoice) -> tuple[float, float]:
    """RMS on its own concrete and on later pours, targets alike."""
    own = np.mean([judge.rms_of(choice) ** 2 for judge in judges])
    later = np.mean([np.mean(judge.next_errors(choice) ** 2) for judge in judges])
    return float(np.sqrt(own)), float(np.sqrt(later))


def row_of(name: str, plan: Plan, judges: Sequence[Broken]) -> Row:
    """Recommend from the records of one plan and judge it."""
    result = recommend(plan, n_draws=5, workers=1)
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    pick = search.rule.pick(search.rule.training(np.ones(search.cells.n_units, dtype=bool)))
    assert pick is not None
    assert result.spending is not None
    assert result.customary is not None
    joint = search.matrix.joint_of(pick.chosen)
    schedule = search.matrix.choices.schedule(search.matrix.choice_of(pick.chosen))
    own_rule = Choice(schedule, joint.curve, joint.weighting, joint.maturity)
    return Row(
        name,
        result.recommended.schedule.n_specimens,
        *true_errors(judges, result.recommended),
        result.spending.recommended.headline_rms,
        schedule.n_specimens,
        *true_errors(judges, own_rule),
        true_errors(judges, result.customary)[1],
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study, print its table and keep it."""
    parser = argparse.ArgumentParser(description="Judge the demo's plan on fresh batches.")
    parser.add_argument("--redrawn", type=int, default=20, help="other sets of records (20)")
    parser.add_argument("--fresh", type=int, default=600, help="fresh batches that judge (600)")
    given = parser.parse_args(arguments)
    plan = load_plan(FOLDER / "plan.toml")
    judges = [
        broken_of(RUNWAY_PANELS, given.fresh, JUDGE_SEED, settings_of(plan), target_h=target, conditions=CONDITIONS)
        for target in TARGETS_H
    ]
    rows = [row_of("shipped", plan, judges)]
    print(HEAD, rows[0].text(), sep="\n", flush=True)
    for seed in range(FIRST_SEED, FIRST_SEED + given.redrawn):
        records = draw_records(RUNWAY_PANELS, seed, has_oddities=True)
        rows.append(row_of(f"seed {seed}", plan_with(records, plan), judges))
        print(rows[-1].text(), flush=True)
    write_section(
        "tests.statistics.runway_programmes", "\n".join([TITLE, HEAD, RULE, *[r.text() for r in rows], said(rows)])
    )


RULE = "|" + "---|" * (HEAD.count("|") - 1)


def said(rows: Sequence[Row]) -> str:
    """The medians, and where the shipped records stand among the redrawn."""
    shipped, others = rows[0], rows[1:]
    names = ("own", "later", "stated")
    own, later, stated = (100 * np.median([getattr(row, name) for row in others]) for name in names)
    ratio = np.median([row.later / row.later_of_own_rule for row in others])
    counts = np.mean([(row.n_specimens, row.n_specimens_own_rule) for row in others], axis=0)
    n_better = sum(row.later < shipped.later for row in others)
    n_gloomier = sum(row.stated > shipped.stated for row in others)
    return (
        f"\nMedian of the redrawn: own batch {own:.1f}, later pour {later:.1f}, stated {stated:.1f}; {ratio:.3f} times "
        f"the own-batch rule's later pour, with {counts[0]:.1f} specimens instead of {counts[1]:.1f}. Of {len(others)} "
        f"redrawn sets {n_better} lead to a lower true later-pour error than the shipped records, and {n_gloomier} "
        "state a higher one."
    )


if __name__ == "__main__":
    main()
