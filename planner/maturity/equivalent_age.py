"""Equivalent age: hours at the reference temperature that would have hydrated the cement as far."""

from __future__ import annotations

import math

import numpy as np

from planner.maturity._reading_checks import ABSOLUTE_ZERO_C, checked_record, checked_temperatures
from planner.terms.arrays import FloatArray


def equivalent_age(elapsed_h: FloatArray, temperature_c: FloatArray, *, q_k: float, reference_c: float) -> FloatArray:
    """Accumulate hours, each weighed by its rate of hydration.

    Parameters
    ----------
    elapsed_h
        Reading times since age zero [h], rising, shape ``(n_readings,)``.
    temperature_c
        Temperatures inside the concrete [C], shape ``(n_readings,)``.
    q_k
        Apparent activation energy over the gas constant [K].
    reference_c
        Temperature at which an hour counts as an hour [C].

    Returns
    -------
    FloatArray
        Equivalent age since the first reading [h], 0 at the first, shape ``(n_readings,)``.

    Raises
    ------
    ValueError
        Where the record does not rise, is not finite or does not match in length, or a constant makes
        no sense.

    References
    ----------
    Freiesleben Hansen and Pedersen's function in the form of ASTM C1074, at the mean temperature of
    each interval.
    """
    times_h, temperatures_c = checked_record(elapsed_h, temperature_c)
    mean_c = (temperatures_c[1:] + temperatures_c[:-1]) / 2
    steps = arrhenius_factor(mean_c, q_k=q_k, reference_c=reference_c) * np.diff(times_h)
    return np.concatenate(([0.0], np.cumsum(steps)))


def arrhenius_factor(temperature_c: FloatArray, *, q_k: float, reference_c: float) -> FloatArray:
    """Return hours at the reference temperature that one hour at `temperature_c` is worth; any shape.

    Raises
    ------
    ValueError
        Where Q is below 0 K or a temperature is not above absolute zero.
    """
    if not (math.isfinite(q_k) and q_k >= 0):
        raise ValueError(f"Q must be finite and not below 0 K, given {q_k}.")
    checked_temperatures(reference_c)
    return hydration_rate(checked_temperatures(temperature_c), q_k, reference_c)


def hydration_rate(temperature_c: FloatArray, q_k: FloatArray | float, reference_c: FloatArray | float) -> FloatArray:
    """The same for what has been checked, as a record is before it is read under many constants; shapes broadcast."""
    reference_k = reference_c - ABSOLUTE_ZERO_C
    return np.asarray(np.exp(-q_k * (1 / (temperature_c - ABSOLUTE_ZERO_C) - 1 / reference_k)), dtype=np.float64)
