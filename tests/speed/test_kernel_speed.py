"""How fast the compiled fits are. Opt-in: `pytest tests/speed -s` prints the table.

Every ratio is measured in one run on one core, by processor time, and answers are compared first. Figures
of fits per second depend on the machine and on what else it does; ratios much less.
"""

from __future__ import annotations

import time
import warnings
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import OptimizeWarning, curve_fit, least_squares

from planner.curves import CURVES
from planner.fitting.batch_sweep import CURVE_CODES, sweep

AGES_H = np.array([4.0, 6, 8, 12, 24, 48, 72, 168, 336, 672])
EXACT = {"hyperbolic": (60.0, 30.0, 1.0), "exponential": (60.0, 18.0, 0.8)}
N_SLOW = 40  # fits given to the slow ones
N_BATCHES = 40
curves = pytest.mark.parametrize("curve", EXACT)


def programmes(curve):
    """Every set of 5 to 7 ages, and batches scattered by 3 % about the curve itself."""
    sets = [c for n in (5, 6, 7) for c in combinations(range(len(AGES_H)), n)]
    members = np.full((len(sets), 7), -1)
    for row, positions in enumerate(sets):
        members[row, : len(positions)] = positions
    rng = np.random.default_rng(8)
    true_mpa = CURVES[curve].strength(AGES_H, EXACT[curve])
    means = true_mpa * (1 + 0.03 * rng.standard_normal((N_BATCHES, len(AGES_H))))
    return members, np.array([len(c) for c in sets]), means


def swept(curve, members, n_ages, means):
    """Predictions at 10 h of every set in every batch, and processor seconds of a warm run."""
    error = np.empty((len(means), len(n_ages), 1))
    contribution = np.empty((len(n_ages), 1, members.shape[1]))
    status = np.empty(len(n_ages), dtype=np.int8)
    cv, read_h, truth = np.full(len(AGES_H), 0.03), np.array([10.0]), np.ones(1)
    seconds = np.inf
    for _ in range(3):
        started = time.thread_time()
        for b, mean in enumerate(means):
            sweep(
                CURVE_CODES[curve], 3, members, n_ages, AGES_H, mean, cv, False, read_h, truth, error[b],
                contribution, status, np.zeros(1, dtype=np.int64),
            )  # fmt: skip
        seconds = min(seconds, time.thread_time() - started)
    return error[..., 0] + 1.0, seconds


def timed(fit, members, n_ages, means):
    """Predictions of the first sets in the first batch by a slow fit, and seconds each."""
    picked = np.linspace(0, len(n_ages) - 1, N_SLOW).astype(int)
    started = time.thread_time()
    found = [fit(AGES_H[members[s, : n_ages[s]]], means[0][members[s, : n_ages[s]]]) for s in picked]
    return picked, np.array(found), (time.thread_time() - started) / N_SLOW


def by_curve_fit(curve):
    formula = CURVES[curve]

    def fit(ages_h, mean_mpa):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", OptimizeWarning)
            found, _ = curve_fit(lambda t, *p: formula.strength(t, p), ages_h, mean_mpa, p0=EXACT[curve], maxfev=4000)
        return float(formula.strength(np.array([10.0]), found)[0])

    return fit


def by_bounded_least_squares(curve):
    formula = CURVES[curve]

    def fit(ages_h, mean_mpa):
        low, high = formula.bounds(ages_h)
        found = least_squares(
            lambda p: formula.strength(ages_h, p) - mean_mpa, np.clip(EXACT[curve], np.r_[0, low], np.r_[1e9, high]),
            jac=lambda p: formula.derivative(ages_h, p), bounds=(np.r_[0, low], np.r_[1e9, high]), x_scale="jac",
            xtol=1e-12, ftol=1e-14, gtol=1e-14,
        )  # fmt: skip
        return float(formula.strength(np.array([10.0]), found.x)[0])

    return fit


def by_stacked_numpy(curve, members, n_ages, means):
    """Gauss-Newton with halved steps over all sets of one size at once, from the true shape."""
    started = time.thread_time()
    n = 6
    rows = members[n_ages == n][:, :n]
    ages_h = np.broadcast_to(AGES_H[rows], (len(means), *rows.shape)).reshape(-1, n)
    mean_mpa = means[:, rows].reshape(-1, n)
    p = np.tile(EXACT[curve], (len(mean_mpa), 1))
    formula = STACKED[curve]
    residual = mean_mpa - formula(ages_h, p)[0]
    for _ in range(12):
        value, jacobian = formula(ages_h, p)
        residual = mean_mpa - value
        normal = np.einsum("sik,sil->skl", jacobian, jacobian)
        normal[:, [0, 1, 2], [0, 1, 2]] *= 1 + 1e-9
        step = np.linalg.solve(normal, np.einsum("sik,si->sk", jacobian, residual)[..., None])[..., 0]
        for _halving in range(3):
            worse = ((mean_mpa - formula(ages_h, p + step)[0]) ** 2).sum(1) > (residual**2).sum(1)
            step[worse] *= 0.3
        p = p + step
    read = formula(np.full((len(p), 1), 10.0), p)[0][:, 0].reshape(len(means), -1)
    return read, (time.thread_time() - started) / len(p)


def stacked_hyperbola(t, p):
    since = t - p[:, 2:]
    below = since + p[:, 1:2]
    unit = since / below
    return p[:, :1] * unit, np.stack([unit, -p[:, :1] * unit / below, -p[:, :1] * p[:, 1:2] / below**2], axis=-1)


def stacked_exponential(t, p):
    lag = np.log(np.maximum(p[:, 1:2], 1e-9) / t)
    power = np.exp(np.minimum(p[:, 2:] * lag, 50.0))
    unit = np.exp(-power)
    by_power = -p[:, :1] * unit * power
    return p[:, :1] * unit, np.stack([unit, by_power * p[:, 2:] / p[:, 1:2], by_power * lag], axis=-1)


STACKED = {"hyperbolic": stacked_hyperbola, "exponential": stacked_exponential}


@curves
def test_kernels_against_what_else_could_fit(curve):
    members, n_ages, means = programmes(curve)
    fast, seconds = swept(curve, members, n_ages, means)
    each = seconds / fast.size
    print(f"\n{curve}, 5 to 7 ages, 3 % scatter: {1e-6 / each:.2f} million fits/s")
    for name, fit in (("curve_fit", by_curve_fit(curve)), ("bounded least_squares", by_bounded_least_squares(curve))):
        picked, found, slow = timed(fit, members, n_ages, means)
        # Fits at a bound differ from an unbounded one on purpose; a slow one may stop early.
        assert np.mean(np.abs(found / fast[0, picked] - 1) < 1e-4) >= 0.9, name
        print(f"  {name:24s}{1 / slow:12,.0f} fits/s, the kernel is {slow / each:8,.0f} times as fast")
    stacked, slow = by_stacked_numpy(curve, members, n_ages, means)
    assert np.mean(np.abs(stacked / fast[:, n_ages == 6] - 1) < 1e-4) >= 0.8
    print(f"  {'stacked numpy':24s}{1 / slow:12,.0f} fits/s, the kernel is {slow / each:8,.1f} times as fast")
