"""The constant temperature that a maturity at an age speaks of."""

from __future__ import annotations

import math

from planner.terms.maturity import MaturitySetting

ZERO_C_IN_K = 273.15


def implied_temperature_c(maturity_h: float, age_h: float, setting: MaturitySetting) -> float | None:
    """Temperature [C] at which concrete of an age has a maturity; None for the method "age", which knows none.

    The inverse of :func:`planner.maturity.constant_maturity`.

    Parameters
    ----------
    maturity_h
        Hours at the reference temperature, above 0.
    age_h
        Since age zero [h], above 0.
    """
    if setting.method == "age":
        return None
    hours_an_hour = maturity_h / age_h
    if setting.method == "temperature-time":
        return setting.constant + hours_an_hour * (setting.reference_c - setting.constant)
    reciprocal = 1.0 / (setting.reference_c + ZERO_C_IN_K) - math.log(hours_an_hour) / setting.constant
    return 1.0 / reciprocal - ZERO_C_IN_K if reciprocal > 0 else math.inf
