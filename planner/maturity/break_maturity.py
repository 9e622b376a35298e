"""A maturity for every break: hours at the reference temperature at any age, by any method."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.maturity._reading_checks import checked_ages, checked_record, checked_temperatures
from planner.maturity.equivalent_age import hydration_rate
from planner.maturity.temperature_time import hardening_rate
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.maturity import MaturitySetting


def maturity_at(
    ages_h: FloatArray,
    elapsed_h: FloatArray,
    temperature_c: FloatArray,
    setting: MaturitySetting,
    *,
    continued_c: float | None,
) -> FloatArray:
    """Read the maturity of concrete with a temperature record at any ages.

    Before the first reading the concrete is taken to have had the first temperature, after the last one
    `continued_c`. At an age between two readings the temperature is interpolated and the mean from the
    earlier reading to that age counts. Where the temperature falls so steeply that this mean would make
    maturity shrink before the next reading, maturity stays at that reading's: it never falls with age.

    Parameters
    ----------
    ages_h
        Ages since age zero [h], any order, any shape.
    elapsed_h
        Reading times since age zero [h], rising, shape ``(n_readings,)``.
    temperature_c
        Temperatures inside the concrete [C], shape ``(n_readings,)``.
    setting
        Method with its constant. With the method "age" maturity is age, whatever the record says.
    continued_c
        Temperature after the last reading [C]; None where it is not known.

    Returns
    -------
    FloatArray
        Maturity [h at the reference temperature], shape of `ages_h`.

    Raises
    ------
    ValueError
        Where an age lies beyond the record and `continued_c` is None, an age is below 0 h, or the record
        does not rise, is not finite or does not match in length.
    """
    (found,) = maturities_at(ages_h, elapsed_h, temperature_c, (setting,), continued_c=continued_c)
    return np.asarray(found, dtype=np.float64)


def maturities_at(
    ages_h: FloatArray,
    elapsed_h: FloatArray,
    temperature_c: FloatArray,
    settings: Sequence[MaturitySetting],
    *,
    continued_c: float | None,
) -> FloatArray:
    """The same under several settings, ``(n_settings, ...)``: what does not depend on them is looked up once.

    Raises
    ------
    ValueError
        As :func:`maturity_at`.
    """
    ages = checked_ages(ages_h)
    times_h, temperatures_c = checked_record(elapsed_h, temperature_c)
    by_age = [setting.method == "age" for setting in settings]
    if all(by_age):
        return np.stack([ages] * len(settings))
    if times_h[0] > 0:
        times_h = np.concatenate(([0.0], times_h))
        temperatures_c = np.concatenate((temperatures_c[:1], temperatures_c))
    last_h = times_h[-1]
    found = _WithinRecord.of(np.minimum(ages, last_h), times_h, temperatures_c).maturities(settings)
    beyond_h = ages - last_h
    if np.any(beyond_h > 0):
        if continued_c is None:
            late = np.unique(ages[beyond_h > 0])
            raise ValueError(
                f"The temperature record ends at {last_h:g} h, but maturity is wanted at "
                f"{', '.join(f'{age:g} h' for age in late[:10])}. Give the temperature after the last reading "
                f"or a longer record."
            )
        later = _rates(checked_temperatures(continued_c), settings)
        found += np.multiply.outer(later, np.maximum(beyond_h, 0.0))
    found[by_age] = ages
    return found


def constant_maturity(ages_h: FloatArray, temperature_c: float, setting: MaturitySetting) -> FloatArray:
    """Read the maturity of concrete kept at one temperature since age zero.

    Parameters
    ----------
    ages_h
        Ages since age zero [h], any shape.
    temperature_c
        Temperature inside the concrete [C]. Not used by the method "age".
    setting
        Method with its constant.

    Returns
    -------
    FloatArray
        Maturity [h at the reference temperature], shape of `ages_h`.

    Raises
    ------
    ValueError
        Where an age is below 0 h or the temperature is not finite or below absolute zero.
    """
    ages = checked_ages(ages_h)
    if setting.method == "age":
        return ages.copy()
    return ages * rate(checked_temperatures(temperature_c), setting)


def rate(temperature_c: FloatArray, setting: MaturitySetting) -> FloatArray:
    """Return hours at the reference temperature gained in one hour at `temperature_c` [C]; any shape."""
    (found,) = _rates(checked_temperatures(temperature_c), (setting,))
    return np.asarray(found, dtype=np.float64)


def _rates(temperature_c: FloatArray, settings: Sequence[MaturitySetting]) -> FloatArray:
    """The same under several settings for temperatures that have been checked, ``(n_settings, ...)``."""
    found = np.ones((len(settings), *temperature_c.shape))
    for method, rate_of in (("equivalent age", hydration_rate), ("temperature-time", hardening_rate)):
        rows = [row for row, setting in enumerate(settings) if setting.method == method]
        if rows:
            constants = np.array([(settings[row].constant, settings[row].reference_c) for row in rows])
            constant, reference_c = constants.T.reshape(2, len(rows), *(1,) * temperature_c.ndim)
            found[rows] = rate_of(temperature_c, constant, reference_c)
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _WithinRecord:
    """Ages that lie inside a record that begins at 0 h, with all that no setting changes."""

    spans_h: FloatArray  # between readings, (n_readings - 1,)
    interval_c: FloatArray  # mean temperature of each, (n_readings - 1,)
    before: IntArray  # interval that each age lies in, shape of the ages
    into_h: FloatArray  # how far, shape of the ages
    partial_c: FloatArray  # mean temperature from the reading before it, shape of the ages

    @classmethod
    def of(cls, ages_h: FloatArray, times_h: FloatArray, temperatures_c: FloatArray) -> _WithinRecord:
        if times_h.size == 1:  # one reading at age zero: no interval has passed yet
            none = np.zeros(1)
            return cls(none, none, np.zeros(ages_h.shape, dtype=np.int64), np.zeros_like(ages_h), np.zeros_like(ages_h))
        spans_h = np.diff(times_h)
        before = np.clip(np.searchsorted(times_h, ages_h, side="right") - 1, 0, spans_h.size - 1)
        into_h = ages_h - times_h[before]
        slopes = np.diff(temperatures_c) / spans_h
        return cls(
            spans_h=spans_h,
            interval_c=(temperatures_c[1:] + temperatures_c[:-1]) / 2,
            before=before,
            into_h=into_h,
            partial_c=temperatures_c[before] + slopes[before] * into_h / 2,
        )

    def maturities(self, settings: Sequence[MaturitySetting]) -> FloatArray:
        """Maturity at each age under each setting [h at the reference temperature], ``(n_settings, ...)``."""
        n_needed = int(self.before.max(initial=0)) + 1  # what comes after the last age takes no part
        steps_h = _rates(self.interval_c[:n_needed], settings) * self.spans_h[:n_needed]
        at_reading_h = np.zeros_like(steps_h)
        np.cumsum(steps_h[:, :-1], axis=1, out=at_reading_h[:, 1:])
        # Capped at the whole interval's step: the accumulated mean first rises and then falls in a steep drop.
        gained_h = np.minimum(_rates(self.partial_c, settings) * self.into_h, steps_h[:, self.before])
        return at_reading_h[:, self.before] + gained_h
