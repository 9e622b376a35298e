"""Errors of one choice against mean concrete temperature."""

from __future__ import annotations

import numpy as np

from planner.resampling.errors.arithmetic import share_beyond, share_inside
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.drawn_figures import TemperatureRow


def temperature_table(
    error: FloatArray,
    schedule_variance: FloatArray,
    *,
    check_target: IntArray,
    check_temperature_c: FloatArray,
    target_ages_h: tuple[float, ...],
    tolerance: float,
) -> tuple[TemperatureRow, ...]:
    """Error of one choice against mean concrete temperature.

    Parameters
    ----------
    error, schedule_variance
        At the checks, ``(n_checks,)``; NaN where a batch could not judge.
    check_target, check_temperature_c
        Of each check, ``(n_checks,)``.

    Returns
    -------
    tuple
        A row for each target and temperature, coolest first; empty where checks have no temperature.
    """
    rows = []
    for position, age_h in enumerate(target_ages_h):
        for temperature in np.unique(check_temperature_c[np.isfinite(check_temperature_c)]):
            own = (check_target == position) & (check_temperature_c == temperature) & np.isfinite(error)
            if not own.any():
                continue
            e, sd = error[own], np.sqrt(schedule_variance[own])
            rows.append(
                TemperatureRow(
                    target_age_h=age_h,
                    temperature_c=float(temperature),
                    bias=float(e.mean()),
                    rms=float(np.sqrt(np.mean(e**2 + sd**2))),
                    low_05=_quantile(e, sd, 0.05),
                    high_95=_quantile(e, sd, 0.95),
                    within_tolerance=float(np.mean(share_inside(e, sd, tolerance))),
                    over_predicted_beyond_tolerance=float(np.mean(share_beyond(e, sd, tolerance))),
                )
            )
    return tuple(rows)


def _quantile(mean: FloatArray, sd: FloatArray, share: float) -> float:
    """Quantile of an equal mixture of normal laws, by halving."""
    low, high = float(np.min(mean - 8.0 * sd)), float(np.max(mean + 8.0 * sd))
    for _ in range(60):
        middle = 0.5 * (low + high)
        if 1.0 - float(np.mean(share_beyond(mean, sd, middle))) < share:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
