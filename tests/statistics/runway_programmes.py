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

from planner.population import basis_of
from planner.read import load_plan
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import Plan
from planner.terms.results.choice_role import ChoiceRole
from planner.verdict.compared.rater import Rater
from planner.verdict.compared.reference_schedules import rate_named
from planner.verdict.selection.search import Search
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import draw_records
from tests.statistics.broken import Broken, JointChoice, all_fits, true_rms_of_all
from tests.statistics.fresh_batches import N_SHORTLIST, SEARCH_SEED, allowed_schedules
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
    search = search_of(plan, basis_of(plan), Work.of(5, 1, 1, None))
    pick = search.rule.pick(search.rule.training(np.ones(search.cells.n_units, dtype=bool)))
    assert pick is not None
    assert search.chosen is not None
    assert search.programmes is not None
    taken, matrix = search.chosen.taken, search.matrix
    recommended = _choice(search, taken.which, taken.joint)
    own_rule = _choice(search, matrix.choice_of(pick.chosen), int(matrix.row_joint[pick.chosen]))
    rater = Rater(search.cells, search.scoring, search.draws)
    customary = rate_named(search, rater, None, recommended.schedule.n_ages).first(ChoiceRole.CUSTOMARY)
    assert customary is not None
    everything = search.programmes.everything
    return Row(
        name,
        recommended.schedule.n_specimens,
        *true_errors(judges, recommended),
        float(everything.rms[taken.which, everything.trial_batches.index(taken.n_trial_batches)]),
        own_rule.schedule.n_specimens,
        *true_errors(judges, own_rule),
        true_errors(judges, customary)[1],
    )


def _choice(search: Search, which: int, joint: int) -> Choice:
    found = search.matrix.joints[joint]
    return Choice(search.matrix.choices.schedule(which), found.curve, found.weighting, found.maturity)


def hindsight_of(plan: Plan, searched: Sequence[Broken], judges: Sequence[Broken]) -> tuple[float, float]:
    """Lowest true errors, own batch and later pour, of the choices that read their own concrete best.

    All choices with the whole budget spread evenly are read on some fresh batches, the shortlist on the judging ones.
    """
    schedules = allowed_schedules(plan, [float(age) for age in judges[0].ages_h])
    fits = list(all_fits(settings_of(plan)))
    square = np.mean([true_rms_of_all(broken, schedules, fits) ** 2 for broken in searched], axis=0)
    shortlist = [divmod(int(row), len(schedules)) for row in np.argsort(square, axis=None)[:N_SHORTLIST]]
    errors = np.array([true_errors(judges, Choice(schedules[s], *fits[f])) for f, s in shortlist])
    own, later = errors.min(axis=0)
    return float(own), float(later)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study, print its table and keep it."""
    parser = argparse.ArgumentParser(description="Judge the demo's plan on fresh batches.")
    parser.add_argument("--redrawn", type=int, default=20, help="other sets of records (20)")
    parser.add_argument("--fresh", type=int, default=600, help="fresh batches that judge (600)")
    parser.add_argument("--search", type=int, default=60, help="batches searched in hindsight (60)")
    given = parser.parse_args(arguments)
    plan = load_plan(FOLDER / "plan.toml")
    judges = [
        broken_of(RUNWAY_PANELS, given.fresh, JUDGE_SEED, settings_of(plan), target_h=target, conditions=CONDITIONS)
        for target in TARGETS_H
    ]
    searched = [
        broken_of(RUNWAY_PANELS, given.search, SEARCH_SEED, settings_of(plan), target_h=target, conditions=CONDITIONS)
        for target in TARGETS_H
    ]
    rows = [row_of("shipped", plan, judges)]
    print(HEAD, rows[0].text(), sep="\n", flush=True)
    for seed in range(FIRST_SEED, FIRST_SEED + given.redrawn):
        records = draw_records(RUNWAY_PANELS, seed, has_oddities=True)
        rows.append(row_of(f"seed {seed}", plan_with(records, plan), judges))
        print(rows[-1].text(), flush=True)
    own, later = hindsight_of(plan, searched, judges)
    best = (
        f"\nBest in hindsight, whole budget, of the {N_SHORTLIST} choices that read their own concrete best: own batch "
        f"{100 * own:.1f}, later pour {100 * later:.1f}; the recommended of redrawn records "
        f"{np.median([row.own for row in rows[1:]]) / own:.2f} and "
        f"{np.median([row.later for row in rows[1:]]) / later:.2f} "
        "times these at the median."
    )
    print(best)
    write_section(
        "tests.statistics.runway_programmes",
        "\n".join([TITLE, HEAD, RULE, *[r.text() for r in rows], said(rows), best]),
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
