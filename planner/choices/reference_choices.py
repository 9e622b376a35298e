"""Schedules that a recommendation must stand beside: the customary one, equal gain, log-spaced."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray, IntArray

# One common practice for a calibration study: ASTM C1074 lists 1, 3, 7, 14 and 28 d (from memory).
CUSTOMARY_AGES_H = (24.0, 72.0, 168.0, 336.0, 672.0)


def customary_schedule(ages_h: FloatArray) -> tuple[int, ...]:
    """Positions of 1, 3, 7, 14, 28 d, or as many of them as the records hold."""
    return tuple(int(i) for i in np.flatnonzero(np.isin(ages_h, CUSTOMARY_AGES_H)))


def equal_gain_schedule(typical_mpa: FloatArray, offered: IntArray, n_ages: int) -> tuple[int, ...]:
    """Positions of `n_ages` offered ages with about equal gain of strength from one to the next.

    From the earliest offered age to the last, steps of equal strength; each step takes the offered age
    whose typical strength is nearest, none twice. The fair rival where early strength matters (ASTM
    C1074 asks for about equal gain; from memory).

    Parameters
    ----------
    typical_mpa
        Typical strength at every recorded age [MPa], shape ``(n_recorded,)``.
    offered
        Positions that may be broken, rising.
    """
    return _nearest_steps(typical_mpa[offered], offered, n_ages)


def log_spaced_schedule(ages_h: FloatArray, offered: IntArray, n_ages: int) -> tuple[int, ...]:
    """Positions of `n_ages` offered ages spaced about equally in the logarithm of age."""
    return _nearest_steps(np.log(ages_h[offered]), offered, n_ages)


def _nearest_steps(level: FloatArray, offered: IntArray, n_ages: int) -> tuple[int, ...]:
    """Walk from the first level to the last in equal steps, taking the nearest free position at each."""
    n_ages = min(n_ages, len(offered))
    picked: list[int] = []
    for step, wanted in enumerate(np.linspace(level[0], level[-1], n_ages)):
        low = picked[-1] + 1 if picked else 0
        high = len(offered) - (n_ages - step)  # leave room for the steps to come
        free = np.arange(low, high + 1)
        picked.append(int(free[np.argmin(np.abs(level[free] - wanted))]))
    return tuple(int(offered[i]) for i in picked)
