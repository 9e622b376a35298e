"""One fit by the compiled kernels, and seeded programmes to try them on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.fitting.batch_sweep import CURVE_CODES, FEWEST_AGES, sweep
from planner.fitting.variable_projection import AT_BOUND
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import CurveName

AGES_H = np.array([3.0, 4, 6, 8, 10, 12, 16, 18, 24, 36, 48, 72, 120, 168, 336, 672, 1344])

NEXT_TO_NOTHING = 1e-9  # CV


@dataclass(frozen=True, slots=True)
class KernelFit:
    """What the sweep says of one schedule that holds every age given."""

    prediction: FloatArray  # [MPa], (n_read,)
    contribution: FloatArray  # squared sensitivity x mean, by a scatter too small to reach a bound, (n_read, n_ages)
    is_at_bound: bool

    def sensitivity(self, mean_mpa: FloatArray) -> FloatArray:
        """Absolute sensitivities a_i, (n_read, n_ages)."""
        return np.sqrt(self.contribution) / mean_mpa


def kernel_fit(
    curve: CurveName,
    maturity_h: FloatArray,
    mean_mpa: FloatArray,
    read_h: FloatArray,
    *,
    is_relative: bool = False,
) -> KernelFit:
    """Fit by the sweep; a true strength of 1 makes its error the prediction less 1."""
    n, n_read = len(maturity_h), len(read_h)
    error = np.empty((1, n_read))
    contribution = np.empty((1, n_read, n))
    status = np.empty(1, dtype=np.int8)
    sweep(
        CURVE_CODES[curve], FEWEST_AGES[curve], np.arange(n, dtype=np.int16)[None, :], np.array([n]),
        np.asarray(maturity_h), np.asarray(mean_mpa), np.full(n, NEXT_TO_NOTHING), is_relative, np.asarray(read_h),
        np.ones(n_read), error, contribution, status, np.zeros(1, dtype=np.int64),
    )  # fmt: skip
    return KernelFit(error[0] + 1.0, contribution[0] / NEXT_TO_NOTHING**2, bool(status[0] == AT_BOUND))


def programmes(n: int, *, seed: int) -> list[tuple[FloatArray, FloatArray]]:
    """Maturities and scattered means of concretes that no fitted curve describes; 3 to 7 ages."""
    rng = np.random.default_rng(seed)
    made = []
    for _ in range(n):
        n_ages = int(rng.integers(3, 8))
        maturity_h = np.sort(rng.choice(AGES_H, n_ages, replace=False)) * rng.uniform(0.5, 2.0)
        set_h = rng.uniform(0.0, 0.9 * maturity_h[0])
        since_h = 0.5 * np.logaddexp(0.0, (maturity_h - set_h) / 0.5)
        fast = -np.expm1(-((since_h / np.exp(rng.uniform(0.7, 3.7))) ** rng.uniform(0.8, 1.6)))
        slow = (since_h / np.exp(rng.uniform(4.1, 6.4))) ** 0.85
        share = rng.uniform(0.1, 0.9)
        true_mpa = rng.uniform(20.0, 120.0) * (share * fast + (1.0 - share) * slow / (1.0 + slow))
        scatter = 1.0 + rng.uniform(0.01, 0.06) * rng.standard_normal(n_ages)
        made.append((maturity_h, np.asarray(np.maximum(true_mpa * scatter, 0.1))))
    return made
