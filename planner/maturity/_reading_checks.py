"""What a temperature record must be before anything is accumulated over it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.terms.arrays import FloatArray

ABSOLUTE_ZERO_C = -273.15


def checked_record(elapsed_h: ArrayLike, temperature_c: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the record as float arrays.

    Raises
    ------
    ValueError
        Where times and temperatures differ in number, are not finite, do not rise, begin before age
        zero, or are colder than absolute zero. Every offending time is named.
    """
    times = np.asarray(elapsed_h, dtype=np.float64)
    temperatures = checked_temperatures(temperature_c)
    if times.ndim != 1 or times.shape != temperatures.shape or times.size == 0:
        raise ValueError(
            f"A temperature record needs one temperature for each reading time and at least one reading, "
            f"given times of shape {times.shape} and temperatures of shape {temperatures.shape}."
        )
    if not np.all(np.isfinite(times)):
        given = _listed(times[~np.isfinite(times)])
        raise ValueError(f"Reading times must be finite, given {given}. Remove those readings.")
    late = np.flatnonzero(np.diff(times) <= 0)
    if late.size:
        pairs = ", ".join(f"{times[i + 1]:g} h follows {times[i]:g} h" for i in late[:10])
        raise ValueError(f"Reading times must rise, but {pairs}. Sort the readings or correct the times.")
    if times[0] < 0:
        raise ValueError(
            f"Reading times count from age zero, given {_listed(times[times < 0])} h. "
            f"Leave out the readings before age zero."
        )
    return times, temperatures


def checked_temperatures(temperature_c: ArrayLike) -> FloatArray:
    """Return temperatures as a float array.

    Raises
    ------
    ValueError
        Where one is not finite or not above absolute zero.
    """
    temperatures = np.asarray(temperature_c, dtype=np.float64)
    is_wrong = ~(np.isfinite(temperatures) & (temperatures > ABSOLUTE_ZERO_C))
    if np.any(is_wrong):
        raise ValueError(
            f"Temperatures must be finite and above {ABSOLUTE_ZERO_C:g} C, given {_listed(temperatures[is_wrong])}."
        )
    return temperatures


def checked_ages(ages_h: ArrayLike) -> FloatArray:
    """Return ages as a float array.

    Raises
    ------
    ValueError
        Where one is not finite or below 0 h.
    """
    ages = np.asarray(ages_h, dtype=np.float64)
    is_wrong = ~(np.isfinite(ages) & (ages >= 0))
    if np.any(is_wrong):
        raise ValueError(f"Ages must be finite and not below 0 h, given {_listed(ages[is_wrong])}.")
    return ages


def _listed(values: FloatArray) -> str:
    shown = ", ".join(f"{value:g}" for value in np.atleast_1d(values)[:10])
    return shown if values.size <= 10 else f"{shown} and {values.size - 10} more"
