"""Temperature-time factor: degrees above the datum, accumulated over time."""

from __future__ import annotations

import numpy as np

from planner.maturity._reading_checks import checked_record
from planner.terms.arrays import FloatArray


def temperature_time_factor(elapsed_h: FloatArray, temperature_c: FloatArray, *, datum_c: float) -> FloatArray:
    """Accumulate temperature above the datum over time.

    An interval whose mean temperature lies below the datum adds nothing; it never takes away.

    Parameters
    ----------
    elapsed_h
        Reading times since age zero [h], rising, shape ``(n_readings,)``.
    temperature_c
        Temperatures inside the concrete [C], shape ``(n_readings,)``.
    datum_c
        Datum temperature [C], at and below which no strength is gained.

    Returns
    -------
    FloatArray
        Temperature-time factor since the first reading [C h], 0 at the first, shape ``(n_readings,)``.

    Raises
    ------
    ValueError
        Where the record does not rise, is not finite or does not match in length, or the datum is not finite.

    References
    ----------
    ASTM C1074, Nurse-Saul function, with the mean temperature of each interval.
    """
    if not np.isfinite(datum_c):
        raise ValueError(f"The datum temperature must be finite, given {datum_c}.")
    times_h, temperatures_c = checked_record(elapsed_h, temperature_c)
    mean_c = (temperatures_c[1:] + temperatures_c[:-1]) / 2
    steps = degrees_above(mean_c, datum_c) * np.diff(times_h)
    return np.concatenate(([0.0], np.cumsum(steps)))


def hardening_rate(
    temperature_c: FloatArray, datum_c: FloatArray | float, reference_c: FloatArray | float
) -> FloatArray:
    """Return hours at the reference temperature that one hour at `temperature_c` is worth; shapes broadcast."""
    return degrees_above(temperature_c, datum_c) / (reference_c - datum_c)


def degrees_above(temperature_c: FloatArray, datum_c: FloatArray | float) -> FloatArray:
    """Return how far temperatures lie above the datum [C], 0 where they do not; shapes broadcast."""
    return np.maximum(temperature_c - datum_c, 0.0)
