"""Temperatures inside the specimens: curing room or site, self-heating, day and night."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from scenarios.laws import FloatArray, rate_factor

WARMEST_HOUR = 15.0  # of the day


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Where specimens lie, and how that differs from batch to batch (normal spreads, in degrees)."""

    name: str  # what the study calls it
    curing: Literal["standard", "site"]
    placement: str  # as written in the files
    surroundings_c: float
    surroundings_sd_c: float
    placing_c: float  # fresh concrete
    placing_sd_c: float
    self_heating_c: float  # height of the hump
    self_heating_sd_c: float
    heating_peak_h: float  # when it is highest
    swing_c: float  # half the difference of day and night
    lag_h: float  # how slowly the specimen follows its surroundings
    casting_hour: float  # of the day
    logged_until_h: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Exposure:
    """Many batches in one climate, arrays of shape ``(n_batches,)``."""

    climate: Climate
    surroundings_c: FloatArray
    placing_c: FloatArray
    self_heating_c: FloatArray

    def temperature_c(self, elapsed_h: FloatArray) -> FloatArray:
        """True temperature [C] at times of shape ``(n_times,)``; returns ``(n_batches, n_times)``."""
        climate = self.climate
        approach = np.exp(-elapsed_h / climate.lag_h)
        part = elapsed_h / climate.heating_peak_h
        hump = part**2 * np.exp(2.0 * (1.0 - part))
        hour = climate.casting_hour + elapsed_h - WARMEST_HOUR
        swing = climate.swing_c * np.cos(2.0 * np.pi * hour / 24.0) * (1.0 - approach)
        surroundings = self.surroundings_c[:, None]
        temperature: FloatArray = (
            surroundings
            + (self.placing_c[:, None] - surroundings) * approach
            + self.self_heating_c[:, None] * hump
            + swing
        )
        return temperature

    def equivalent_age_h(self, age_h: FloatArray, q_k: float) -> FloatArray:
        """Equivalent age [h at 20 C] at nominal ages of shape ``(n_ages,)``; returns ``(n_batches, n_ages)``.

        Trapezoids on a grid that holds the ages themselves, so nothing is interpolated.
        """
        grid_h = _grid_h(age_h)
        factor = rate_factor(self.temperature_c(grid_h), q_k)
        pieces = 0.5 * (factor[:, 1:] + factor[:, :-1]) * np.diff(grid_h)
        summed = np.concatenate([np.zeros((factor.shape[0], 1)), np.cumsum(pieces, axis=1)], axis=1)
        aged: FloatArray = summed[:, np.searchsorted(grid_h, age_h)]
        return aged


def _grid_h(age_h: FloatArray) -> FloatArray:
    """Fine where the hump is, coarser where only day and night are left, with the ages among the points."""
    last_h = float(age_h.max())
    steps = np.concatenate(
        [np.arange(0.0, 24.0, 0.1), np.arange(24.0, 168.0, 0.25), np.arange(168.0, last_h + 1.0, 1.0)]
    )
    return np.unique(np.concatenate([steps[steps < last_h], age_h, [0.0]]))


def draw_exposure(climate: Climate, n_batches: int, seed_words: tuple[int, ...]) -> Exposure:
    """Draw the conditions of many batches in one climate."""

    def spread(stream: int, mean: float, sd: float) -> FloatArray:
        return mean + sd * np.random.default_rng((*seed_words, stream)).standard_normal(n_batches)

    return Exposure(
        climate=climate,
        surroundings_c=spread(1, climate.surroundings_c, climate.surroundings_sd_c),
        placing_c=spread(2, climate.placing_c, climate.placing_sd_c),
        self_heating_c=np.maximum(spread(3, climate.self_heating_c, climate.self_heating_sd_c), 0.5),
    )


def reading_times_h(climate: Climate) -> FloatArray:
    """When the logger writes: every half hour for two days, then every two hours [h]."""
    until = climate.logged_until_h
    times = np.concatenate([np.arange(0.0, 48.0, 0.5), np.arange(48.0, until + 1e-9, 2.0)])
    return times[times <= until]
