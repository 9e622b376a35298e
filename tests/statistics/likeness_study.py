"""What the added term of the score is worth: ``python -m tests.statistics.likeness_study``.

The term is what other schedules and site-cured companions say of a curve and of maturity constants, see
:mod:`planner.resampling.search.model_penalty`. Redrawn runway records, 6 h as the only target, four specimens at
every age: the true errors of what is recommended with the term and without it, on fresh batches, on the trial batch's
own concrete and on later pours.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from unittest import mock

import numpy as np

from planner.population import basis_of
from planner.resampling import Scoring
from planner.steps.searching import Work, search_of
from planner.terms.plan.settings import Plan
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import draw_records
from tests.statistics.broken import Broken
from tests.statistics.coverage import coarse_plan, judge_of
from tests.statistics.later_regret import Choice
from tests.statistics.results_file import write_section
from tests.statistics.runway import plan_with

SECTION = "tests.statistics.likeness_study"
FIRST_SEED = 70_000
HEAD = "| batches | own batch, with % | own batch, without % | later pour, with % | later pour, without % | lower in |"
TITLE = """## The added term of the score

`python -m tests.statistics.likeness_study`: true RMS errors of the recommended choice, median / 90th percentile, with
what other schedules and site-cured companions say of a curve added to the score, and without. Lower in: of the records
in which the two lead to different errors on the own batch, those where the term leads to the lower one.
"""
NOTE = """
The term stays: with four batches or more it leads to the lower error on the own batch at the median, with three the two
are level, and later pours, where what pours differ by counts most, are read alike at the median.
"""


@dataclass(frozen=True, slots=True)
class Pair:
    """True RMS errors of one set of records, with the term and without."""

    own: tuple[float, float]
    later: tuple[float, float]


def without_term(_cells: object, _joints: object, plain: Scoring, **_how: int) -> Scoring:
    """Stands in for the function that adds the term."""
    return plain


def true_errors(plan: Plan, judge: Broken) -> tuple[float, float]:
    """Own batch and later pour of what the rule takes."""
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    assert search.chosen is not None
    taken = search.chosen.taken
    joint = search.matrix.joints[taken.joint]
    choice = Choice(search.matrix.choices.schedule(taken.which), joint.curve, joint.weighting, joint.maturity)
    return judge.rms_of(choice), float(np.sqrt(np.mean(judge.next_errors(choice) ** 2)))


def pair_of(seed: int, n_batches: int, *, n_fresh: int) -> Pair:
    """Draw records, keep the first batches, choose with the term and without."""
    plan = plan_with(draw_records(RUNWAY_PANELS, FIRST_SEED + seed), coarse_plan())
    kept = set(plan.records.batches[:n_batches])
    records = replace(
        plan.records,
        breaks=tuple(item for item in plan.records.breaks if item.batch in kept),
        curing_records=tuple(item for item in plan.records.curing_records if item.batch in kept),
    )
    plan, judge = replace(plan, records=records), judge_of(n_fresh)
    own, later = true_errors(plan, judge)
    with mock.patch("planner.steps.searching.with_likeness", without_term):
        own_without, later_without = true_errors(plan, judge)
    return Pair((own, own_without), (later, later_without))


def row_of(n_batches: int, found: Sequence[Pair]) -> str:
    """One line of the table."""
    own, later = (100 * np.array([getattr(pair, name) for pair in found]) for name in ("own", "later"))
    cells = [
        "{:.2f} / {:.2f}".format(*np.quantile(column, [0.5, 0.9])) for errors in (own, later) for column in errors.T
    ]
    is_apart = own[:, 0] != own[:, 1]
    n_lower = int((own[is_apart, 0] < own[is_apart, 1]).sum())
    return f"| {n_batches} | {' | '.join(cells)} | {n_lower} of {int(is_apart.sum())} |"


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study, print its table and keep it."""
    parser = argparse.ArgumentParser(description="The recommended choice with the added term and without.")
    parser.add_argument("--redrawn", type=int, default=40, help="sets of records (40)")
    parser.add_argument("--fresh", type=int, default=600, help="fresh batches that judge (600)")
    parser.add_argument("--batches", type=int, nargs="*", default=[3, 4, 6, 9], help="prior batches (3 4 6 9)")
    given = parser.parse_args(arguments)
    lines = [HEAD, "|" + "---|" * (HEAD.count("|") - 1)]
    print(HEAD)
    for n_batches in given.batches:
        found = [pair_of(seed, n_batches, n_fresh=given.fresh) for seed in range(given.redrawn)]
        lines.append(row_of(n_batches, found))
        print(lines[-1], flush=True)
    write_section(SECTION, "\n".join([TITLE, f"{given.redrawn} sets of records.\n", *lines, NOTE]))


if __name__ == "__main__":
    main()
