"""The first run of an installation compiles the loops, once, half of them on each of two cores.

Compiled code is kept on disk, so processes beside this one can make it: each calls its loops on arrays of one
entry. This process waits, and then finds everything as in any later run, its own memory free of the compiler.
Where the loops are compiled already, or nothing can be kept, nothing is started; what the others could not
compile, this process does.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

from planner.questions.long_runs import say

WHAT = "Compiling, this first time only"

Progress = Callable[[int, int, str], None]


def compile_first(progress: Progress) -> None:
    """Have all loops compiled, unless they are; where they can hardly be kept, it is said once."""
    _tell_where_kept()
    if _is_compiled():
        return
    progress(0, 1, WHAT)
    begun: list[subprocess.Popen[bytes]] = []
    try:
        begun += [process for half in HALVES if (process := _started(half)) is not None]
        for process in begun:
            process.wait()
    finally:  # whoever is interrupted leaves nobody at work
        for process in begun:
            process.terminate()
            process.wait()


@lru_cache(maxsize=1)
def _tell_where_kept() -> None:
    from planner.compiled import kept

    if kept().note:
        say(kept().note)


def _is_compiled() -> bool:
    """Whether the loops that end either half stand on disk."""
    from planner.resampling.errors.kernels import resample_views, sweep_joints

    folder = sweep_joints.stats.cache_path  # None where nothing can be kept: nothing made beside would be found
    return folder is None or all(
        any(Path(folder).glob(f"{Path(loop.py_func.__code__.co_filename).stem}.{loop.py_func.__name__}-*.nbi"))
        for loop in (sweep_joints, resample_views)
    )


def _started(half: str) -> subprocess.Popen[bytes] | None:
    with suppress(OSError):
        return subprocess.Popen(
            [sys.executable, "-m", __name__, half],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    return None


def _compile_sweep() -> None:
    """Compile the sweep over all schedules, as long in coming as all the rest, by sweeping the smallest records."""
    import numpy as np

    from planner.evidence import tabulate
    from planner.resampling import Scoring, joints_of
    from planner.resampling.search.pieces import set_table
    from planner.terms.maturity import MaturitySetting
    from planner.terms.plan.settings import Budget, ChoiceLimits, Settings, Target
    from planner.terms.records import Break, Records

    ages_h = (1.0, 2.0, 3.0)
    breaks = tuple(
        Break(batch="", mix="", curing="standard", age_h=age, tested_h=age, strength_mpa=age) for age in ages_h
    )
    asked = Settings(
        target=Target(ages_h=ages_h[2:], tolerance=0.1),
        choices=ChoiceLimits(ages_h=ages_h[:2], fewest_ages=2, most_ages=2, specimens_per_age=(1, 1)),
        budget=Budget(specimens=2),
    )
    cells = tabulate(Records(breaks=breaks), asked)
    joints = joints_of(("logarithmic",), (MaturitySetting("age"),))
    set_table(cells, np.array([[0, 1]]), np.array([2]), joints, Scoring.of(cells, asked.target))


def _compile_rest() -> None:
    """Compile what the search needs beside the sweep, in an order in which either half finds parts of the other made.

    First what the sweep needs late, last what needs the fit that the sweep needs first.
    """
    import numpy as np

    from planner.fitting.batch_sweep import CURVE_CODES
    from planner.fitting.bound_scatter import near_a_bound
    from planner.fitting.sensitivities import sensitivities
    from planner.fitting.smoothers import smoother_weights
    from planner.fitting.variable_projection import HYPERBOLIC, N_LINES
    from planner.mixed_model import PriorBatches, estimate_growth_prior
    from planner.resampling.errors.closed_form import describe_choices
    from planner.resampling.errors.kernels import resample_views
    from planner.resampling.errors.later_pours.judged_kernel import judge_rows
    from planner.resampling.search.dominance import undominated
    from planner.resampling.search.pruning import losses_at, near_rows, promising
    from planner.verdict.selection.programmes.price_fronts import thin
    from planner.verdict.selection.tie_rule import apply_rule

    one, plane, solid, body = np.ones(1), np.ones((1, 1)), np.ones((1, 1, 1)), np.ones((1, 1, 1, 1))
    first, true = np.zeros(1, dtype=np.int64), np.ones(1, dtype=bool)
    patterns = np.ones((1, 1), dtype=np.int16)
    linear = (solid, body, first, first + 1, patterns, 2.0)
    limits = np.ones((2, 2))
    fitted = np.ones((N_LINES, 3))
    near_a_bound(HYPERBOLIC, 3, fitted, 0.0, 0.0, *sensitivities(HYPERBOLIC, 3, fitted, 0.0, 0.0, 1.0, 1.0))
    smoother_weights(CURVE_CODES["piecewise linear"], 3, fitted, 1.0)
    promising(
        *linear, first + 1, limits, np.ones(2), true, 1.0, one.copy(), np.zeros(1, dtype=np.int16),
        np.zeros((1, 1), dtype=bool),
    )  # fmt: skip
    losses_at(*linear, first, first, plane.copy())
    near_rows(plane, first + 1, limits.copy(), np.zeros(2), 1.21, true, 1.0, true.copy(), true.copy())
    undominated(plane)
    single = plane.astype(np.float32)
    apply_rule(plane, single, plane > 2.0, first, np.ones((1, 1), dtype=np.int64), level=single)
    describe_choices(first, patterns, plane, solid, plane, one, first, first, 0.0 * one, 0.1, np.empty((1, 6)))
    judged = np.empty((4, 1, 1), dtype=np.float32)
    judge_rows(first, patterns, plane, plane, plane, solid, plane, one, first, first, one, one, 0.1, judged)
    rms, _inside, over, worst = judged[:, :, 0]
    thin(first, 1, rms, worst, over, one, true)
    two = np.ones((2, 2))
    estimate_growth_prior(
        PriorBatches(mean_mpa=two, n_specimens=two, maturity_h=np.array([[1.0, 2.0]] * 2), cv=0.1 * two[0])
    )
    members = np.array([0, 1], dtype=np.int16)
    ages_h = np.array([[1.0, 2.0]])
    resample_views(
        CURVE_CODES["logarithmic"], members, ages_h, ages_h, False, np.zeros((1, 1, 2)), np.array([0, 1]), one, one,
        plane.copy(),
    )  # fmt: skip


HALVES = {"sweep": _compile_sweep, "rest": _compile_rest}

if __name__ == "__main__":
    HALVES[sys.argv[1]]()
