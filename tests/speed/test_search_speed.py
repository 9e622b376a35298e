"""What a search costs in time and memory, and against a loop in Python. Opt-in: `pytest tests/speed -s`."""

from __future__ import annotations

import time
import tracemalloc
import warnings

import numpy as np
import pytest
from scipy.optimize import OptimizeWarning, curve_fit
from sklearn.metrics import mean_squared_error
from sklearn.model_selection import LeaveOneGroupOut

from planner.choices import enumerate_choices, offered_ages
from planner.curves import CURVES
from planner.evidence import tabulate
from planner.pipeline import recommend
from planner.resampling import Scoring, error_matrix, joints_of
from planner.resampling.errors.sweeps import sweep_sets
from tests.laws.invented import AGES_H, TARGET_H, plan_of, programme, settings

BIG_AGES_H = (4.0, 6.0, 8.0, 12.0, 18.0, 24.0, 48.0, 72.0, 168.0, 336.0, 672.0)
N_LOOPED = 12  # sets of ages the Python loop is measured on


def search(n_batches=6, ages_h=AGES_H, per_age=(2, 3), most_ages=4):
    asked = settings(ages_h=ages_h, most_ages=most_ages, specimens_per_age=per_age, specimens=99)
    cells = tabulate(programme(n_batches=n_batches, ages_h=ages_h), asked)
    offered = offered_ages(cells.ages_h, cells.is_candidate, cells.typical_mpa(), asked.choices, asked.budget)
    choices = enumerate_choices(cells.ages_h, offered, asked.choices, asked.budget)
    return cells, choices, joints_of(asked.curves, cells.settings), Scoring.of(cells, asked.target)


def scored(**size):
    """Rows scored, wall seconds of a warm run, and peak memory of Python and numpy [MB]."""
    cells, choices, joints, scoring = search(**size)
    error_matrix(cells, choices, joints, scoring)
    started = time.perf_counter()
    error_matrix(cells, choices, joints, scoring)
    seconds = time.perf_counter() - started
    tracemalloc.start()
    error_matrix(cells, choices, joints, scoring)
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return len(choices) * len(joints), seconds, peak


def slope(sizes, values):
    """Exponent of growth: 1 is in proportion."""
    return float(np.polyfit(np.log(sizes), np.log(values), 1)[0])


def test_search_against_a_loop_over_groups():
    cells, choices, joints, _scoring = search(ages_h=BIG_AGES_H, most_ages=6)
    joint = joints[0]
    sweep_sets(cells, choices.set_members, choices.set_n_ages, joint)
    started = time.thread_time()
    swept = sweep_sets(cells, choices.set_members, choices.set_n_ages, joint)
    each = (time.thread_time() - started) / choices.n_sets
    formula = CURVES["hyperbolic"]
    groups = np.arange(cells.n_units)
    picked = np.linspace(0, choices.n_sets - 1, N_LOOPED).astype(int)
    n_equal = 0
    started = time.thread_time()
    for s in picked:
        at = choices.set_members[s, : choices.set_n_ages[s]]
        errors = np.empty(cells.n_units)
        for _train, (b,) in LeaveOneGroupOut().split(groups, groups=groups):
            t, means = cells.views.maturity_h[0, b, at], cells.views.mean_mpa[b, at]
            low, high = formula.bounds(t)
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", OptimizeWarning)
                found, _ = curve_fit(
                    lambda x, *p: formula.strength(x, p), t, means, p0=(50.0, 20.0, 0.0),
                    bounds=(np.r_[0.0, low], np.r_[np.inf, high]),
                )  # fmt: skip
            errors[b] = formula.strength(np.array([TARGET_H]), found)[0] / cells.checks.truth_mpa[b] - 1
        mean_squared_error(np.zeros_like(errors), errors)
        n_equal += bool(np.allclose(errors, swept.error[s], atol=1e-4))
    slow = (time.thread_time() - started) / N_LOOPED
    assert n_equal >= 0.8 * N_LOOPED
    print(f"\n{choices.n_sets:,} sets of ages, {cells.n_units} batches, one curve, every batch held out:")
    print(f"  compiled sweep {each * choices.n_sets:8.3f} s, measured, with variances")
    print(f"  Python loop    {slow * choices.n_sets:8.1f} s, extrapolated from {N_LOOPED} sets:", end="")
    print(f" {slow / each:,.0f} times")


@pytest.mark.parametrize(
    ("what", "sizes", "how"),
    [
        ("batches", (3, 6, 12, 24), lambda n: {"n_batches": n}),
        ("ages on offer", (7, 9, 11), lambda n: {"ages_h": BIG_AGES_H[:n]}),
        ("counts at each age", (2, 3, 4), lambda n: {"per_age": (1, n), "ages_h": BIG_AGES_H[:8]}),
    ],
)
def test_growth_of_the_search(what, sizes, how):
    measured = [scored(**how(size)) for size in sizes]
    print(f"\n{what:20s}{'joint choices':>15s}{'s':>9s}{'peak MB':>10s}")
    for size, (rows, seconds, peak) in zip(sizes, measured, strict=True):
        print(f"{size:<20d}{rows:15,d}{seconds:9.3f}{peak:10.1f}")
    rows, seconds, peaks = (np.array(column) for column in zip(*measured, strict=True))
    work = rows * np.array(sizes) if what == "batches" else rows
    print(f"  per unit of work (joint choices{' x batches' if what == 'batches' else ''}): "
          f"time ^{slope(work, seconds):.2f}, memory ^{slope(work, peaks):.2f}")  # fmt: skip
    assert np.all(peaks < 500)


def test_growth_with_draws():
    records, results = programme(), []
    recommend(plan_of(records), n_draws=10, workers=1)
    print(f"\n{'draws':20s}{'s':>9s}{'peak MB':>10s}{'Monte-Carlo error':>20s}")
    for n_draws in (100, 400, 1600):
        started = time.perf_counter()
        result = recommend(plan_of(records), n_draws=n_draws, workers=1)
        seconds = time.perf_counter() - started
        tracemalloc.start()
        recommend(plan_of(records), n_draws=n_draws, workers=1)
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        results.append((result.recommended.schedule, seconds, peak))
        print(f"{n_draws:<20d}{seconds:9.2f}{peak:10.1f}{result.recommended.error.monte_carlo_se:20.2e}")
    assert len({schedule for schedule, *_ in results}) == 1
    sizes = (100, 400, 1600)
    times, peaks = [seconds for _, seconds, _ in results], [peak for *_, peak in results]
    print(f"  time ^{slope(sizes, times):.2f}, memory ^{slope(sizes, peaks):.2f}")
