"""The site as a range of mean concrete temperatures: where checks are put, and errors against temperature."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import Settings

N_TEMPERATURES = 5  # checks across the range
CROSSOVER_FROM_H, CROSSOVER_FULL_H = 24.0, 672.0  # maturity where the loss begins, and where it is whole


def site_temperatures(settings: Settings, standard_c: float | None) -> FloatArray | None:
    """Spread checks evenly over the stated range [C]; None where there is no range or no temperature at all."""
    if settings.site_temperature_c is None or standard_c is None:
        return None
    coolest, warmest = settings.site_temperature_c
    return np.linspace(coolest, warmest, N_TEMPERATURES if warmest > coolest else 1)


def crossover_factor(maturity_h: FloatArray, warmer_k: FloatArray, *, loss: float) -> FloatArray:
    """Share of strength left at equal maturity after warmer curing: hot early curing lowers later strength.

    Nothing up to 24 h of maturity, growing with its logarithm to the whole loss at 28 d. Cooler curing gains.

    Parameters
    ----------
    maturity_h, warmer_k
        Hours, and degrees above standard curing, of one shape.
    loss
        Share of the 28 d strength for each 10 K.

    References
    ----------
    The effect: Carino and Lew 1983 (abstract read). Its course and size: common practice, no source.
    """
    ramp = np.log(maturity_h / CROSSOVER_FROM_H) / np.log(CROSSOVER_FULL_H / CROSSOVER_FROM_H)
    return np.asarray(np.exp(-loss * warmer_k / 10.0 * np.clip(ramp, 0.0, 1.0)))
