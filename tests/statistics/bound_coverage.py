"""How often the own-batch bound holds, and how wide it is: ``python -m tests.statistics.bound_coverage``.

A programme is drawn under each law of :mod:`tests.statistics.site_laws`, a choice is recommended from it, and the
bound that is said of it is held against the true error of that choice on fresh batches. Beside the bound stand two
plainer ones: chi-square on the measured errors, companions' scatter and all, and chi-square on the error with the
scatter taken out.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from planner.population import basis_of
from planner.searching import Work, search_of
from planner.terms.arrays import FloatArray
from planner.verdict.selection.nested import nested
from planner.verdict.validation.own_batch import upper_bound
from tests.statistics.broken import Broken, Fit
from tests.statistics.recording import recorded
from tests.statistics.site_laws import LAWS, SiteLaw, fresh, programme

NOMINAL = 0.95
N_REDRAWS, N_FRESH = 400, 3000
JUDGE_SEED = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounded:
    """What one redraw was told, and what is true of the recommended choice."""

    true_rms: float
    bound: float
    measured_bound: float  # chi-square on the measured errors
    plain_bound: float  # chi-square on the nested error against true strength


def redraw(law: SiteLaw, seed: int, judge: Broken) -> Bounded:
    """Draw one programme, recommend, bound, and judge."""
    plan = programme(law, seed)
    search = search_of(plan, basis_of(plan), Work.of(4, 1, 1, None))
    rule, cells, scoring = search.rule, search.cells, search.scoring
    pick = rule.pick(rule.training(np.ones(cells.n_units, dtype=bool)))
    judged = nested(search.matrix, cells, scoring, search.draws, rule.folds())
    assert pick is not None
    assert judged is not None
    joint = search.matrix.joint_of(pick.chosen)
    schedule = search.matrix.choices.schedule(search.matrix.choice_of(pick.chosen))
    errors = judge.errors([schedule], Fit(joint.curve, joint.weighting, joint.maturity))
    measured = scoring.by_unit(np.nan_to_num(judged.shown.error) ** 2)[judged.units]
    n = len(judged.units)
    quantile = stats.chi2.ppf(1.0 - NOMINAL, n)
    nested_square = max(float(judged.level.mean()), float(judged.variance.mean()))
    return Bounded(
        true_rms=float(np.sqrt(np.mean(errors**2))),
        bound=upper_bound(cells, scoring, judged),
        measured_bound=float(np.sqrt(measured.sum() / quantile)),
        plain_bound=float(np.sqrt(n * nested_square / quantile)),
    )


def table(found: Sequence[tuple[SiteLaw, Sequence[Bounded]]]) -> Iterator[str]:
    """A row for each law: coverage with its Monte-Carlo error, and bound over truth, median and nine tenths."""
    yield (
        "| law | batches | true RMS, % | held | bound over truth | scatter left in: held, over truth "
        "| plain: held, over truth |"
    )
    yield "|---|---|---|---|---|---|---|"
    for law, rows in found:
        truth, bound, measured, plain = (
            np.array([getattr(row, name) for row in rows])
            for name in ("true_rms", "bound", "measured_bound", "plain_bound")
        )
        held = np.mean(bound >= truth)
        error = np.sqrt(held * (1.0 - held) / len(rows))
        low, middle, high = np.quantile(bound / truth, [0.1, 0.5, 0.9])
        yield (
            f"| {law.name} | {law.n_batches} | {100 * np.median(truth):.1f} | {held:.3f} +- {error:.3f} "
            f"| {middle:.2f} ({low:.2f} to {high:.2f}) | {_beside(measured, truth)} | {_beside(plain, truth)} |"
        )


def _beside(bound: FloatArray, truth: FloatArray) -> str:
    return f"{np.mean(bound >= truth):.3f}, {np.median(bound / truth):.2f}"


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser(description="Coverage and width of the own-batch bound under several laws.")
    parser.add_argument("--redraws", type=int, default=N_REDRAWS, help=f"seeded programmes of each law ({N_REDRAWS})")
    parser.add_argument("--fresh", type=int, default=N_FRESH, help=f"fresh batches that judge ({N_FRESH})")
    parser.add_argument("--only", default="", help="laws whose name holds this text; not kept")
    given = parser.parse_args(arguments)
    found = []
    for law in (law for law in LAWS if given.only in law.name):
        judge = fresh(law, given.fresh, JUDGE_SEED)
        found.append((law, [redraw(law, seed, judge) for seed in range(given.redraws)]))
        print(law.name, file=sys.stderr, flush=True)
    print(
        f"Own-batch `rms_upper_95`, nominal {NOMINAL:.0%}: {given.redraws} programmes of each law, the recommended "
        f"choice judged on {given.fresh} fresh batches. Held: share of programmes whose true RMS error is not above "
        "the bound, with its Monte-Carlo error. Bound over truth: median (10th to 90th percentile). Beside it "
        "chi-square on the measured errors, and on the nested error with the companions' scatter taken out.\n"
    )
    print("\n".join(table(found)))


if __name__ == "__main__":
    if "--only" in sys.argv:  # a part is shown, and not kept in the place of the whole
        main()
    else:
        with recorded(" ".join(["python -m tests.statistics.bound_coverage", *sys.argv[1:]]), is_markdown=True):
            main()
