"""What early breaks of a pour and a population of earlier batches are worth: ``python -m tests.statistics.borrowing``.

Redrawn programmes of 3, 4, 6 and 9 earlier batches, each with fresh pours that break 0, 1, 2 or 4 specimens early.
Said: the standard deviation and the one-sided 90 % reading. True: the strength of each pour at each target. On
published mixes the shape prior is held beside free fits. The tables are written into ``RESULTS.md``.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from planner.fitting.single import fit_curve
from planner.mixed_model import (
    CellMeans,
    GrowthPrior,
    SpreadPriors,
    centre,
    estimate_growth_prior,
    pour,
    read_pour,
    rescaled,
)
from planner.mixed_model.reading import student_quantile
from planner.terms.arrays import FloatArray, IntArray
from tests.statistics.later_pours import DEMO, LAWS, Concrete, Law, concrete_of
from tests.statistics.published_shapes import shape_table
from tests.statistics.results_file import write_section

N_BATCHES = (3, 4, 6, 9)
N_EARLY = (0, 1, 2, 4)
ASSURANCE = 0.90
TOLERANCE = 0.10
TRIAL_AGES_H = (4.0, 8.0, 24.0, 168.0)
MEDIANS = (("default medians", 1.0), ("medians halved", 0.5), ("medians doubled", 2.0))
# RMS [%] on the demo's law as the method was first tried, by early specimens and earlier batches
FIRST_TRIED = {
    0: (12.6, 10.5, 10.3, 9.6), 1: (6.7, 6.3, 6.0, 5.7), 2: (6.0, 5.8, 5.3, 5.1), 4: (4.2, 4.1, 3.9, 3.8),
}  # fmt: skip


class Read(NamedTuple):
    """Pours of one programme read at one target, ``(n_pours,)`` each."""

    error: FloatArray  # relative, read over true minus 1
    sd: FloatArray  # stated, relative
    holds: FloatArray  # 1 where the pour is at least as strong as its one-sided reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One cell of the tables: all programmes of a law, a number of batches and of early specimens."""

    law: str
    n_batches: int
    n_early: int
    rms: float  # root mean square error over programmes, pours and targets
    stated_over_realised: float  # median over programmes
    held: float  # share of one-sided readings that hold
    least_held: float  # in the worst programme
    over_predicted: float  # share beyond the tolerance


def read_programme(concrete: Concrete, prior: GrowthPrior, pours: IntArray, n_early: int) -> list[Read]:
    """Read the pours of a programme at every target, all at once; the planner's own reading checks the first."""
    factor = student_quantile(prior.n_freedom, ASSURANCE)
    results = []
    for target_h, early in zip(concrete.law.targets_h, concrete.law.early[n_early], strict=True):
        columns = np.array([concrete.column(age) for age, _ in early], dtype=np.int64)
        counts = np.array([count for _, count in early], dtype=np.float64)
        column = concrete.column(target_h)
        means = np.array(
            [concrete.early_mpa[pours, at, : int(n)].mean(axis=1) for at, n in zip(columns, counts, strict=True)]
        ).T.reshape(len(pours), len(columns))
        log_mpa, variance = _read_all(prior, concrete.maturity_h[pours], columns, counts, means, column)
        _check_first(prior, concrete.maturity_h[pours[0]], columns, counts, means[0], column, log_mpa[0])
        truth = concrete.truth_mpa[pours, column]
        sd = np.sqrt(variance)
        results.append(
            Read(np.exp(log_mpa) / truth - 1.0, sd, (np.log(truth) >= log_mpa - factor * sd).astype(np.float64))
        )
    return results


def _read_all(
    prior: GrowthPrior, maturity_h: FloatArray, columns: IntArray, counts: FloatArray, means: FloatArray, column: int
) -> tuple[FloatArray, FloatArray]:
    """Log reading and variance of every pour."""
    before = np.linalg.inv(pour(prior, centre(prior)).covariance)
    at_value, at_row = prior.at(maturity_h[:, column])
    precision = np.tile(before, (len(maturity_h), 1, 1))
    weighted = np.zeros((len(maturity_h), 2))
    if len(columns):
        early_h = maturity_h[:, columns]
        expected, rows = prior.at(early_h)
        weight = 1.0 / (prior.cv_at(early_h) ** 2 / counts + prior.departure_variance(early_h))
        precision = precision + np.einsum("pi,pij,pik->pjk", weight, rows, rows)
        weighted = np.einsum("pi,pij->pj", weight * (np.log(means) - expected), rows)
    after = np.linalg.inv(precision)
    log_mpa = at_value + np.einsum("pj,pjk,pk->p", at_row, after, weighted)
    variance = np.einsum("pj,pjk,pk->p", at_row, after, at_row) + prior.departure_variance(maturity_h[:, column])
    return log_mpa, variance


def _check_first(
    prior: GrowthPrior,
    maturity_h: FloatArray,
    columns: IntArray,
    counts: FloatArray,
    means: FloatArray,
    column: int,
    log_mpa: float,
) -> None:
    """The study's own algebra must be the planner's."""
    early = CellMeans(maturity_h=maturity_h[columns], mean_mpa=means, n_specimens=counts) if len(columns) else None
    found = read_pour(prior, maturity_h[[column]], early=early).log_mpa[0]
    if abs(found - log_mpa) > 1e-9:
        raise AssertionError(f"The study reads {log_mpa}, the planner {found}.")


def judge_law(
    law: Law, concrete: Concrete, n_programmes: int, n_pours: int, priors: SpreadPriors, name: str
) -> list[Row]:
    """All programmes of one law. A programme with fewer batches is one of the larger without its last ones."""
    most = max(N_BATCHES)
    rows = []
    for n_batches in N_BATCHES:
        known = [
            estimate_growth_prior(concrete.records(_of(programme, n_pours, most)[0][:n_batches]), priors)
            for programme in range(n_programmes)
        ]
        for n_early in N_EARLY:
            reads = [
                read_programme(concrete, known[programme], _of(programme, n_pours, most)[1], n_early)
                for programme in range(n_programmes)
            ]
            rows.append(_row(name or law.name, n_batches, n_early, reads))
    return rows


def _of(programme: int, n_pours: int, n_batches: int) -> tuple[IntArray, IntArray]:
    """Earlier batches and pours of a programme; no batch serves twice."""
    start = programme * (n_pours + n_batches)
    return np.arange(start, start + n_batches), np.arange(start + n_batches, start + n_batches + n_pours)


def _row(law: str, n_batches: int, n_early: int, reads: list[list[Read]]) -> Row:
    squares = np.array([np.mean([np.mean(one.error**2) for one in targets]) for targets in reads])
    stated = np.array([np.mean([np.mean(one.sd**2) for one in targets]) for targets in reads])
    held = np.array([np.mean([one.holds.mean() for one in targets]) for targets in reads])
    over = np.mean([[np.mean(one.error > TOLERANCE) for one in targets] for targets in reads])
    return Row(
        law=law,
        n_batches=n_batches,
        n_early=n_early,
        rms=float(np.sqrt(squares.mean())),
        stated_over_realised=float(np.median(np.sqrt(stated / squares))),
        held=float(held.mean()),
        least_held=float(held.min()),
        over_predicted=float(over),
    )


def rescaled_trials(concrete: Concrete, n_programmes: int, n_pours: int) -> dict[int, tuple[float, float]]:
    """The simple rival: a curve of one trial batch, as it is and rescaled by the early breaks.

    Every earlier batch of a programme plays the trial batch. Returns RMS error and share over-predicted.
    """
    columns = [concrete.column(age) for age in TRIAL_AGES_H]
    figures = {}
    for n_early in N_EARLY:
        errors = []
        for programme in range(n_programmes):
            trials, pours = _of(programme, n_pours, max(N_BATCHES))
            for trial in trials:
                curve = fit_curve(
                    "exponential",
                    concrete.maturity_h[trial, columns],
                    concrete.recorded_mpa[trial, columns],
                    weighting="relative",
                )
                for target_h, early in zip(concrete.law.targets_h, concrete.law.early[n_early], strict=True):
                    column = concrete.column(target_h)
                    log_read = np.log(curve.predict(concrete.maturity_h[pours, column]))
                    if early:
                        log_read = _shifted(concrete, curve.predict, pours, early, log_read)
                    errors.append(np.exp(log_read) / concrete.truth_mpa[pours, column] - 1.0)
        error = np.concatenate(errors)
        figures[n_early] = (float(np.sqrt(np.mean(error**2))), float(np.mean(error > TOLERANCE)))
    return figures


def _shifted(
    concrete: Concrete,
    predict: Callable[[FloatArray], FloatArray],
    pours: IntArray,
    early: Sequence[tuple[float, int]],
    log_read: FloatArray,
) -> FloatArray:
    """Each pour's curve shifted to its own early breaks."""
    at = [concrete.column(age) for age, _ in early]
    means = np.array([concrete.early_mpa[pours, c, :n].mean(axis=1) for c, (_, n) in zip(at, early, strict=True)])
    weight = np.array([n / concrete.cv[c] ** 2 for c, (_, n) in zip(at, early, strict=True)])
    return np.array(
        [
            float(rescaled([one], np.log(predict(concrete.maturity_h[p, at])), np.log(means[:, i]), weight)[0])
            for i, (one, p) in enumerate(zip(log_read, pours, strict=True))
        ]
    )


def study(n_programmes: int, n_pours: int) -> tuple[list[Row], dict[int, tuple[float, float]]]:
    """All laws, and the demo's law with other medians."""
    rows: list[Row] = []
    rivals: dict[int, tuple[float, float]] = {}
    for law in LAWS:
        concrete = concrete_of(law, n_programmes * (n_pours + max(N_BATCHES)))
        rows += judge_law(law, concrete, n_programmes, n_pours, SpreadPriors(), law.name)
        if law is DEMO:
            rivals = rescaled_trials(concrete, min(n_programmes, 20), min(n_pours, 20))
            for name, factor in MEDIANS[1:]:
                weak = SpreadPriors(0.08 * factor, 0.12 * factor, 0.02 * factor)
                rows += judge_law(law, concrete, n_programmes, n_pours, weak, f"demo, {name}")
    return rows, rivals


def tables(rows: Sequence[Row], rivals: dict[int, tuple[float, float]]) -> str:
    """Tables in Markdown."""
    lines = [
        "RMS error of a later pour on the demo's law, 6 h and 1 d, both standard-cured [%]; in brackets as the method"
    ]
    lines += ["was first tried, its four specimens at 4 h and 8 h for the 6 h target too, which no pour can do", ""]
    lines += ["| early specimens | trial curve (rescaled) | " + " | ".join(f"{n} batches" for n in N_BATCHES) + " |"]
    lines += ["|---" * (2 + len(N_BATCHES)) + "|"]
    by_key = {(row.law, row.n_batches, row.n_early): row for row in rows}
    for n_early in N_EARLY:
        cells = [
            f"{100 * by_key[DEMO.name, n, n_early].rms:.1f} ({FIRST_TRIED[n_early][i]:.1f})"
            for i, n in enumerate(N_BATCHES)
        ]
        lines.append(f"| {n_early} | {100 * rivals[n_early][0]:.1f} | " + " | ".join(cells) + " |")
    lines += ["", "For every law: RMS error [%]; median of stated over realised RMS; share of pours at least as strong"]
    lines += ["as their one-sided 90 % reading (in the worst programme); over-predicted by more than 10 % [%]", ""]
    lines += ["| law | batches | early | RMS | stated / realised | 90 % reading holds | worst | over-predicted |"]
    lines += ["|---|---|---|---|---|---|---|---|"]
    lines += [
        f"| {row.law} | {row.n_batches} | {row.n_early} | {100 * row.rms:.1f} | {row.stated_over_realised:.2f} "
        f"| {row.held:.3f} | {row.least_held:.2f} | {100 * row.over_predicted:.1f} |"
        for row in rows
    ]
    return "\n".join(lines)


class Wanted(NamedTuple):
    """One aim beside what was measured."""

    what: str
    aim: str
    measured: tuple[float, ...]  # least and most where there are several
    is_kept: bool


def wanted_of(rows: Sequence[Row]) -> list[Wanted]:
    """The aims of the method, one by one; early specimens one or more, unless told otherwise."""
    by_key = {(row.law, row.n_batches, row.n_early): row for row in rows}
    one, four = (100 * by_key[DEMO.name, 9, n].rms for n in (1, 4))
    found = [
        Wanted("RMS error [%], 9 batches, one specimen at 4 h", "at most 6.0", (one,), one <= 6.0),
        Wanted("RMS error [%], 9 batches, 2 at 4 h and for 1 d 2 at 8 h", "at most 4.6", (four,), four <= 4.6),
    ]
    names = [DEMO.name, *(f"demo, {name}" for name, _ in MEDIANS[1:]), "twice the spread"]
    for name in names:
        for numbers, least, most in (((3,), 0.85, 1.0), (N_BATCHES[1:], 0.87, 0.95)):
            held = [by_key[name, n, early].held for n in numbers for early in N_EARLY[1:]]
            is_capped = name == DEMO.name and most < 1.0  # with other medians only the lower end is demanded
            aim = f"{least:.2f} to {most:.2f}" if is_capped else f"at least {least:.2f}"
            is_kept = round(min(held), 2) >= least and (not is_capped or round(max(held), 2) <= most)
            what = f"90 % reading holds, {name}, {' '.join(map(str, numbers))} batches"
            found.append(Wanted(what, aim, (min(held), max(held)), is_kept))
    for numbers, within in (((3,), 0.20), (N_BATCHES[1:], 0.10)):
        ratios = [by_key[DEMO.name, n, 1].stated_over_realised for n in numbers]
        what = f"stated over realised RMS, one specimen at 4 h, {' '.join(map(str, numbers))} batches"
        is_kept = all(abs(ratio - 1.0) <= within for ratio in ratios)
        found.append(Wanted(what, f"within {within:.2f} of 1", (min(ratios), max(ratios)), is_kept))
    return found


def wanted_table(rows: Sequence[Row]) -> str:
    """The aims in Markdown, shares to two digits."""
    lines = ["| wanted | aim | measured | kept |", "|---|---|---|---|"]
    for one in wanted_of(rows):
        measured = " to ".join(f"{value:.2f}" for value in one.measured)
        lines.append(f"| {one.what} | {one.aim} | {measured} | {'yes' if one.is_kept else 'NO'} |")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study, print its tables and put them into the results file."""
    parser = argparse.ArgumentParser(description="Readings of later pours from records and early breaks.")
    parser.add_argument("--programmes", type=int, default=60, help="redrawn programmes of each law (60)")
    parser.add_argument("--pours", type=int, default=100, help="later pours of each programme (100)")
    parser.add_argument("--no-file", action="store_true", help="print only")
    given = parser.parse_args(arguments)
    started = time.perf_counter()
    rows, rivals = study(given.programmes, given.pours)
    text = "\n".join(
        [
            "## Later pours read with early breaks and a population of earlier batches",
            "",
            f"`python -m tests.statistics.borrowing`: {given.programmes} programmes of {given.pours} pours a law.",
            "",
            wanted_table(rows),
            "",
            tables(rows, rivals),
            "",
            shape_table(),
        ]
    )
    print(text)
    print(f"{time.perf_counter() - started:.0f} s")
    if not given.no_file:
        write_section("tests.statistics.borrowing", text)


if __name__ == "__main__":
    main()
