"""How often the own-batch bound holds, and how wide it is: ``python -m tests.statistics.bound_coverage``.

A programme is drawn under each law of :mod:`tests.statistics.site_laws`, a choice is recommended from it, and the
bound that is said of it is held against the true error of that choice on fresh batches. Beside the bound stand two
plainer ones: chi-square on the measured errors, companions' scatter and all, and chi-square on the error with the
scatter taken out.

The whole takes about half an hour. ``--keep FILE`` writes down every finished redraw, and with ``--most N`` it stops
after so many new ones; run it without ``--most`` at the end, for the table in the results.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from scipy import stats

from planner.population import basis_of
from planner.steps.searching import Work, search_of
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


class Redraws:
    """Redraws by law and seed, each worked out once; those in the file are not worked out again."""

    def __init__(self, file: Path | None, n_fresh: int, most: int | None) -> None:
        self._file, self._n_fresh, self._most = file, n_fresh, most
        lines = file.read_text().splitlines() if file is not None and file.exists() else []
        found = [json.loads(line) for line in lines]
        self._rows = {(row["law"], row["fresh"], row["seed"]): Bounded(**row["bounded"]) for row in found}

    def of(self, law: SiteLaw, n_redraws: int) -> list[Bounded] | None:
        """All redraws of a law; None where the most for this time came first."""
        judge = None
        rows = []
        for seed in range(n_redraws):
            key = (law.name, self._n_fresh, seed)
            if key not in self._rows:
                if self._most == 0:
                    return None
                judge = judge or fresh(law, self._n_fresh, JUDGE_SEED)
                self._keep(key, redraw(law, seed, judge))
            rows.append(self._rows[key])
        return rows

    def _keep(self, key: tuple[str, int, int], row: Bounded) -> None:
        self._rows[key] = row
        self._most = None if self._most is None else self._most - 1
        if self._file is not None:
            with self._file.open("a") as kept:
                print(json.dumps(dict(zip(("law", "fresh", "seed"), key, strict=True), bounded=asdict(row))), file=kept)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and print its table, or stop where it has to go on another time."""
    parser = _parser()
    given = parser.parse_args(arguments)
    if given.most is not None and given.keep is None:
        parser.error("--most stops early, so it needs --keep FILE to go on from")
    redraws = Redraws(given.keep, given.fresh, given.most)
    found = []
    for law in (law for law in LAWS if given.only in law.name):
        rows = redraws.of(law, given.redraws)
        if rows is None:
            print(f"Stopped in the law {law.name!r}; the same command goes on there.", file=sys.stderr)
            return
        found.append((law, rows))
        print(law.name, file=sys.stderr, flush=True)
    print(
        f"Own-batch `rms_upper_95`, nominal {NOMINAL:.0%}: {given.redraws} programmes of each law, the recommended "
        f"choice judged on {given.fresh} fresh batches. Held: share of programmes whose true RMS error is not above "
        "the bound, with its Monte-Carlo error. Bound over truth: median (10th to 90th percentile). Beside it "
        "chi-square on the measured errors, and on the nested error with the companions' scatter taken out.\n"
    )
    print("\n".join(table(found)))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description="Coverage and width of the own-batch bound under several laws.")
    parser.add_argument("--redraws", type=int, default=N_REDRAWS, help=f"seeded programmes of each law ({N_REDRAWS})")
    parser.add_argument("--fresh", type=int, default=N_FRESH, help=f"fresh batches that judge ({N_FRESH})")
    parser.add_argument("--only", default="", help="laws whose name holds this text; not kept in the results")
    parser.add_argument("--keep", type=Path, metavar="FILE", help="finished redraws, read and added to")
    parser.add_argument("--most", type=int, metavar="N", help="stop after so many new redraws; needs --keep")
    return parser


if __name__ == "__main__":
    if "--only" in sys.argv or "--most" in sys.argv:  # a part is shown, and not kept in the place of the whole
        main()
    else:
        shown = [part for part in sys.argv[1:] if part != "--keep" and not part.endswith(".jsonl")]
        with recorded(" ".join(["python -m tests.statistics.bound_coverage", *shown]), is_markdown=True):
            main()
