"""The runway demo on fresh batches: ``python -m tests.statistics.fresh_batches``.

For the demo's own records and those of other seeds of the inventing script, the recommended choice is held
against the best choice in hindsight and the schedules people know, by its true error on fresh batches.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from shutil import copy
from typing import NamedTuple

import numpy as np

from planner.choices import log_spaced_schedule, spread_evenly
from planner.pipeline import recommend
from planner.read import load_plan
from planner.terms.arrays import FloatArray
from planner.terms.labels import percent, schedule_label
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import CurveName, Plan, Weighting
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from scenarios.catalogue import RUNWAY_PANELS
from scenarios.writing import write_programme
from tests.statistics.broken import Broken, Fit, all_fits, fit_of, true_rms_of_all
from tests.statistics.runway import OPENING, TARGET_H, fresh_broken, opening_plan, settings_of

JUDGE_SEED, SEARCH_SEED = 909, 808  # of the fresh batches that judge, and of those searched in hindsight
OTHER_SEEDS = (11, 12, 13, 14, 15)
N_SHORTLIST = 60
USUAL_Q = MaturitySetting("equivalent age", 5000.0)


class Choice(NamedTuple):
    """A joint choice."""

    schedule: Schedule
    curve: CurveName
    weighting: Weighting
    maturity: MaturitySetting


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One programme's choices by their true RMS errors on fresh batches."""

    name: str
    recommended: Choice
    stated_rms: float  # nested
    stated_next_rms: float
    true_rms: dict[str, float]  # of each named choice, own batch
    true_next_rms: float  # of the recommended


def allowed_schedules(plan: Plan, ages_h: Sequence[float]) -> list[Schedule]:
    """Every set of ages the plan allows, the whole budget spread evenly over them."""
    limits = plan.settings.choices
    schedules = []
    for n_ages in range(limits.fewest_ages, limits.most_ages + 1):
        counts = spread_evenly(n_ages, plan.settings.budget.specimens, limits.specimens_per_age)
        if counts is not None:
            schedules += [Schedule(tuple(ages), counts) for ages in combinations(ages_h, n_ages)]
    return schedules


def best_in_hindsight(searched: Broken, judge: Broken, schedules: list[Schedule], fits: list[Fit]) -> Choice:
    """The joint choice of lowest true RMS: all of them on some batches, the shortlist on the judging ones."""
    rms = true_rms_of_all(searched, schedules, fits)
    shortlist = [divmod(int(row), len(schedules)) for row in np.argsort(rms, axis=None)[:N_SHORTLIST]]
    choices = [Choice(schedules[s], *fits[f]) for f, s in shortlist]
    return min(choices, key=judge.rms_of)


def rated_alone(plan: Plan, schedule: Schedule) -> Choice:
    """A schedule with the curve, weighting and constants that the planner gives it on the plan's records."""
    settings = plan.settings
    limits = replace(
        settings.choices,
        ages_h=schedule.ages_h,
        fewest_ages=schedule.n_ages,
        most_ages=schedule.n_ages,
        specimens_per_age=(min(schedule.specimens), max(schedule.specimens)),
        required_ages_h=(),
    )
    alone = replace(settings, choices=limits, compare=(schedule,))
    (rated,) = recommend(replace(plan, settings=alone), n_draws=20, workers=1).compared
    return Choice(schedule, *fit_of(rated))


def named_choices(result: Recommendation, plan: Plan, ages_h: FloatArray) -> dict[str, Choice]:
    """The planner's choices and the schedules people know, each with its own best curve on these records."""
    recommended = result.recommended.schedule
    positions = log_spaced_schedule(ages_h, np.arange(len(ages_h)), recommended.n_ages)
    log_spaced = Schedule(tuple(float(ages_h[i]) for i in positions), recommended.specimens)
    rated = {
        "recommended": result.recommended,
        "best": result.best,
        "customary": result.customary,
        "equal gain": result.equal_gain,
    }
    named = {label: Choice(choice.schedule, *fit_of(choice)) for label, choice in rated.items() if choice is not None}
    return named | {"log-spaced": rated_alone(plan, log_spaced)}


def judge_plan(name: str, plan: Plan, judge: Broken, *, n_draws: int) -> Judged:
    """Recommend from the plan's records and judge on the fresh batches."""
    result = recommend(plan, n_draws=n_draws, workers=2)
    named = named_choices(result, plan, judge.ages_h)
    own, later = result.honest.own_batch, result.honest.next_batch
    assert own is not None
    assert later is not None
    return Judged(
        name=name,
        recommended=named["recommended"],
        stated_rms=own.nested_rms,
        stated_next_rms=later.rms,
        true_rms={label: judge.rms_of(choice) for label, choice in named.items()},
        true_next_rms=float(np.sqrt(np.mean(judge.next_errors(named["recommended"]) ** 2))),
    )


def plan_of_seed(folder: Path, seed: int) -> Plan:
    """The same plan with the records of another seed, through the files."""
    write_programme(folder, RUNWAY_PANELS, seed, has_oddities=True)
    copy(OPENING, folder / OPENING.name)
    return load_plan(folder / OPENING.name)


def smooth_customary(judge: Broken) -> list[tuple[Choice, float, float]]:
    """Hyperbola and exponential through 1, 3, 7, 14 and 28 d, read in the first day: RMS and mean error."""
    schedule = Schedule((24.0, 72.0, 168.0, 336.0, 672.0), (3,) * 5)
    rows = []
    for fit in all_fits((USUAL_Q,), ("hyperbolic", "exponential")):
        errors = judge.errors([schedule], fit)[0]
        rows.append((Choice(schedule, *fit), float(np.sqrt(np.mean(errors**2))), float(np.mean(errors))))
    return rows


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and print its tables."""
    parser = argparse.ArgumentParser(description="Judge the runway demo on fresh batches.")
    parser.add_argument("--fresh", type=int, default=2000, help="fresh batches that judge (2000)")
    parser.add_argument("--search", type=int, default=200, help="batches searched in hindsight (200)")
    parser.add_argument("--draws", type=int, default=50, help="draws of each recommendation (50)")
    parser.add_argument("--seeds", type=int, nargs="*", default=OTHER_SEEDS, help="other seeds to invent")
    given = parser.parse_args(arguments)
    plan = opening_plan()
    settings = settings_of(plan)
    judge = fresh_broken(given.fresh, JUDGE_SEED, settings)
    schedules = allowed_schedules(plan, [float(age) for age in judge.ages_h])
    hindsight = best_in_hindsight(
        fresh_broken(given.search, SEARCH_SEED, settings), judge, schedules, all_fits(settings)
    )
    floor = judge.rms_of(hindsight)
    print(f"target {TARGET_H:g} h; {given.fresh} fresh batches, cool and warm nights")
    print(f"best in hindsight: {told(hindsight)}: {percent(floor, digits=2)}")
    for choice, rms, bias in smooth_customary(judge):
        print(f"smooth customary: {told(choice)}: RMS {percent(rms)}, mean {percent(bias, is_signed=True)}")
    print_header()
    print_row(judge_plan("demo", plan, judge, n_draws=given.draws), floor)
    for seed in given.seeds:
        with tempfile.TemporaryDirectory() as folder:
            other = plan_of_seed(Path(folder), seed)
        print_row(judge_plan(f"seed {seed}", other, judge, n_draws=given.draws), floor)


LABELS = ("recommended", "best", "customary", "equal gain", "log-spaced")


def print_header() -> None:
    """Name the columns."""
    print("true RMS error on fresh batches [%]; ratio: recommended over best in hindsight")
    print(f"{'records':<10}" + "".join(f"{label:>12}" for label in LABELS), end="")
    print(f"{'ratio':>7}{'stated':>8}{'next':>7}{'stated':>8}  recommended")


def print_row(judged: Judged, floor: float) -> None:
    """One programme in one line."""
    print(f"{judged.name:<10}" + "".join(f"{100 * judged.true_rms[label]:12.2f}" for label in LABELS), end="")
    print(f"{judged.true_rms['recommended'] / floor:7.2f}{100 * judged.stated_rms:8.2f}", end="")
    print(
        f"{100 * judged.true_next_rms:7.1f}{100 * judged.stated_next_rms:8.1f}  {told(judged.recommended)}",
        flush=True,
    )


def told(choice: Choice) -> str:
    """A joint choice in one line."""
    return f"{schedule_label(choice.schedule)}; {choice.curve}, {choice.weighting}, {choice.maturity}"


if __name__ == "__main__":
    main()
