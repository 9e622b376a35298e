"""Errors in hours where a site waits for a strength: ``python -m tests.statistics.hours_to_strength``.

Redrawn runway programmes, each recommended for two strengths, then fresh batches of the same concrete: the curve of
each read on 100 others. Said: the RMS error in hours on a later pour. True: how far the maturity at which the trial
curve reads the strength lies from the one at which the pour has it.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial

import numpy as np

from planner.evidence.reached_strength import reach
from planner.fitting.single import fit_curve
from planner.pipeline import recommend
from planner.read import load_plan
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Plan
from planner.terms.results.recommended.rated_choice import RatedChoice
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.draws import FreshBatches, draw_batches, draw_records
from tests.statistics.results_file import write_section
from tests.statistics.runway import FOLDER, maturities_h, plan_with

STRENGTHS_MPA = (25.0, 35.0)
FIRST_SEED, JUDGE_SEED = 300, 77
FINE = 1.01  # step of the ages that the truth is read at
AGES_H = (4.0, 8.0, 12.0, 24.0, 72.0, 168.0)
HEAD = (
    "| strength | programmes | stated, h | realised, h | stated over realised, median | 10th | 90th "
    "| root mean squares |"
)
TITLE = """## Hours to a strength

`python -m tests.statistics.hours_to_strength`: RMS error in hours at 20 C on a later pour, standard-cured, medians over
redrawn runway programmes; {n_pours} fresh pours each, read with the curves of {n_trials} fresh trial batches.
An error told by nine batches is right in its mean square and, being skewed, low in its median.
"""


def plan_for(seed: int) -> Plan:
    """The runway plan with redrawn records, waiting for the strengths; a small search."""
    plan = plan_with(draw_records(RUNWAY_PANELS, seed), load_plan(FOLDER / "plan.toml"))
    found = [reach(plan.records, strength) for strength in STRENGTHS_MPA]
    assert all(one.age_h is not None for one in found)
    target = replace(
        plan.settings.target, ages_h=tuple(float(one.age_h or 0.0) for one in found), strengths_mpa=STRENGTHS_MPA
    )
    choices = replace(plan.settings.choices, ages_h=AGES_H, most_ages=5, specimens_per_age=(2, 3))
    settings = replace(
        plan.settings, target=target, choices=choices, curves=("hyperbolic", "logarithmic"), pours=None, compare=()
    )
    return replace(plan, settings=settings)


def realised_h(choice: RatedChoice, fresh: FreshBatches, n_trials: int) -> FloatArray:
    """RMS error in hours of the first batches' curves on all later ones, one a strength."""
    most = max(choice.schedule.specimens)
    ages_h = np.array(choice.schedule.ages_h)
    broken = fresh.specimens_mpa("standard", ages_h, most)
    maturity_h = maturities_h(fresh, ages_h, choice.maturity)
    fine_h = np.geomspace(2.0, 700.0, int(np.log(350.0) / np.log(FINE)))
    true_mpa, true_h = fresh.true_strength("standard", fine_h), maturities_h(fresh, fine_h, choice.maturity)
    errors: list[list[float]] = [[] for _ in STRENGTHS_MPA]
    for trial in range(n_trials):
        means = np.array(
            [broken[trial, at, :count].mean() for at, count in enumerate(choice.schedule.specimens)], dtype=np.float64
        )
        fit = fit_curve(choice.curve, maturity_h[trial], means, weighting=choice.weighting)
        read_at = np.geomspace(1.0, 2000.0, 4000)
        read_mpa = np.maximum.accumulate(fit.predict(read_at))
        for at, strength in enumerate(STRENGTHS_MPA):
            called_h = np.interp(strength, read_mpa, read_at)
            there_h = [np.interp(strength, true_mpa[pour], true_h[pour]) for pour in range(n_trials, fresh.n_batches)]
            errors[at] += (called_h - np.array(there_h)).tolist()
    return np.sqrt(np.mean(np.square(errors), axis=1))


def both(seed: int, n_pours: int, n_trials: int) -> tuple[list[float], list[float]]:
    """Stated and realised RMS error in hours of one programme, one a strength."""
    advice = recommend(plan_for(seed), n_draws=5, workers=1)
    assert advice.waiting is not None
    fresh = draw_batches(RUNWAY_PANELS, n_trials + n_pours, JUDGE_SEED + seed)
    stated = [wait.later_rms_h or np.nan for wait in advice.waiting.waits]
    return stated, realised_h(advice.recommended, fresh, n_trials).tolist()


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study, print its table and keep it."""
    parser = argparse.ArgumentParser(description="Hold stated errors in hours against fresh pours.")
    parser.add_argument("--programmes", type=int, default=20)
    parser.add_argument("--pours", type=int, default=100)
    parser.add_argument("--trials", type=int, default=40, help="fresh trial batches of each programme")
    given = parser.parse_args(arguments)
    one = partial(both, n_pours=given.pours, n_trials=given.trials)
    found = []
    with ProcessPoolExecutor() as processes:
        for pair in processes.map(one, range(FIRST_SEED, FIRST_SEED + given.programmes)):
            found.append(pair)
            print(FIRST_SEED + len(found) - 1, *np.round(pair, 2), flush=True)
    said, true = np.array(found).transpose(1, 0, 2)
    ratio = said / true
    in_squares = np.sqrt(np.mean(said**2, axis=0) / np.mean(true**2, axis=0))
    tenth, median, ninetieth = np.quantile(ratio, (0.1, 0.5, 0.9), axis=0)
    rows = [
        f"| {strength:g} MPa | {given.programmes} | {np.median(said[:, at]):.2f} | {np.median(true[:, at]):.2f} | "
        f"{median[at]:.2f} | {tenth[at]:.2f} | {ninetieth[at]:.2f} | {in_squares[at]:.2f} |"
        for at, strength in enumerate(STRENGTHS_MPA)
    ]
    table = [TITLE.format(n_pours=given.pours, n_trials=given.trials), HEAD, "|" + "---|" * (HEAD.count("|") - 1)]
    write_section("tests.statistics.hours_to_strength", "\n".join([*table, *rows]))
    print("\n".join([HEAD, *rows]))


if __name__ == "__main__":
    main()
