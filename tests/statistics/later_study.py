"""True later-pour error of the advice: ``python -m tests.statistics.later_study``, part of the study of regret.

For every law and number of prior batches: the recommended programme with one trial batch beside the schedule
that the own batch alone would recommend, the programme of one to three trial batches beside the best in
hindsight for the same money, and ways of ranking schedules beside each other.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np

from tests.statistics.growth import LAWS, Law
from tests.statistics.later_regret import COMPARED_SPECIMENS, LaterRegret, later_quantiles, later_regret_of
from tests.statistics.later_truth import hindsight_of
from tests.statistics.results_file import write_section

SECTION = "tests.statistics.later_study"


def study(law: Law, n_batches: int, seeds: Sequence[int], *, n_fresh: int, n_workers: int) -> list[LaterRegret]:
    """Many sets of records of one law."""
    hindsight_of(law, 300, n_fresh)
    each = partial(later_regret_of, law, n_batches, n_fresh=n_fresh)
    if n_workers == 1:
        return [each(seed) for seed in seeds]
    with ProcessPoolExecutor(n_workers) as pool:
        return list(pool.map(each, seeds, chunksize=4))


def row_of(law: Law, n_batches: int, found: Sequence[LaterRegret]) -> str:
    """One line of the table: median / 90th percentile of ratios, means of counts."""

    def both(value: Callable[[LaterRegret], float]) -> str:
        return "{:.3f} / {:.3f}".format(*later_quantiles([value(each) for each in found]))

    def mean(value: Callable[[LaterRegret], float]) -> float:
        return float(np.mean([value(each) for each in found]))

    ranked = " | ".join(
        f"{100 * np.median([each.ranked[label][1] for each in found]):.1f}" for label in found[0].ranked
    )
    return (
        f"| {law.name} | {n_batches} | {mean(lambda r: r.earlier.n_specimens):.1f} | "
        f"{100 * np.median([r.earlier.rms for r in found]):.1f} | {mean(lambda r: r.one.n_specimens):.1f} | "
        f"{both(lambda r: r.ratio)} | {100 * np.median([r.saved for r in found]):.0f} % | "
        f"{both(lambda r: r.one.rms / r.best_for_one)} | {mean(lambda r: r.several.n_trial_batches):.1f} | "
        f"{mean(lambda r: r.several.n_specimens):.1f} | {both(lambda r: r.regret)} | "
        f"{both(lambda r: r.regret_of_good_curves)} | "
        f"{both(lambda r: r.regret_with_records)} | {np.median([r.one.stated_rms / r.one.rms for r in found]):.2f} | "
        f"{ranked} |"
    )


TITLE = """## Programmes on later pours

`python -m tests.statistics.later_study`; ratios: median / 90th percentile. The own-batch rule is the cheapest schedule
that ties on the trial batch's own concrete, one trial batch. Hindsight chooses ages, counts, curve and trial batches by
the true error on other fresh batches of the same law.
"""
NOTE = """\
Own-batch losses rank ages and curve, although later-pour losses, alone or added to them, find schedules of lower
error on these laws (last three columns). What they find are curves 4 to 16 % off on their own concrete, mostly low:
a low reading that hangs less on the one trial batch shrinks the squared error of the next pour, and companions of the
trial batch would not bear the curve out. On the runway's own law at most 12 specimens read later pours 14.3 % off
ranked by own batch, 15.3 by later pour, 14.2 by both with nine batches, and 14.1, 15.0, 14.2 with four (median of six
sets of records). Curves that hit their own concrete on average are not what is missed: 12 sets of each law at four and
eight batches come to 1.02 to 1.16 of the best programme in hindsight whose curves are within 1 or 2 % there on average.
The aim of 1.05 times the best in hindsight for the money is therefore missed where hindsight may take such curves, but
for one law, and nearly met among those within 5 % on their own concrete. Trial batches that are read together with the
records reach 0.92 to 1.07 of the best that any trial batches alone could reach: what a new curve cannot give is lent by
the earlier batches.
"""
HEAD = (
    "| law | B | specimens, own-batch rule | its true RMS % | specimens, one trial batch | true RMS over that rule's | "
    "saved | over best in hindsight, one trial batch | trial batches of 1 to 3 | specimens in all | over best in "
    "hindsight for the money | the same among curves within 5 % on their own concrete | the same where the trial "
    "batches are read together with the records | stated over true | "
    f"ranked by own batch at {COMPARED_SPECIMENS[1]} specimens % | by later pour % | by both % |"
)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study, print its table and keep it."""
    parser = argparse.ArgumentParser(description="True later-pour error of the advice.")
    parser.add_argument("--programmes", type=int, default=60, help="sets of records of each kind (60)")
    parser.add_argument("--fresh", type=int, default=1000, help="fresh batches that judge (1000)")
    parser.add_argument("--batches", type=int, nargs="*", default=[3, 4, 6, 8, 12], help="prior batches (3 4 6 8 12)")
    parser.add_argument("--workers", type=int, default=1, help="processes (1)")
    given = parser.parse_args(arguments)
    lines = [HEAD, "|" + "---|" * (HEAD.count("|") - 1)]
    print(HEAD)
    for law in LAWS:
        for n_batches in given.batches:
            found = study(law, n_batches, range(given.programmes), n_fresh=given.fresh, n_workers=given.workers)
            lines.append(row_of(law, n_batches, found))
            print(lines[-1], flush=True)
    write_section(SECTION, "\n".join([TITLE, f"{given.programmes} sets of records of each kind.\n", *lines, "", NOTE]))


if __name__ == "__main__":
    main()
