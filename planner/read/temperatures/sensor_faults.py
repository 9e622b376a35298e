"""Readings that a working sensor in concrete does not give: spikes, stuck values, the wrong unit."""

from __future__ import annotations

import numpy as np

from planner.terms.arrays import FloatArray
from planner.terms.records import Curing
from planner.units import celsius_from_fahrenheit, fahrenheit_from_celsius

# Bounds below: common practice, no source.
SPIKE_C = 5.0  # one reading this far from both its neighbours
NEIGHBOURS_C = 2.0  # which agree this well
SPIKE_WITHIN_H = 2.0  # over this span; slower readings may have missed a true rise
STUCK_H = 12.0  # the same value to its last digit for this long
LEAST_STUCK = 20  # readings
MOVES_SHARE = 0.5  # of the steps outside the spell change the value
HOT_FOR_UNHEATED_C = 55.0  # fresh concrete that is not heated does not begin so warm
COLD_FOR_FRESH_C = 0.0  # nor frozen


def spikes(elapsed_h: FloatArray, temperature_c: FloatArray) -> list[int]:
    """Find single readings far from both neighbours, which agree."""
    if temperature_c.size < 3:
        return []
    before, at, after = temperature_c[:-2], temperature_c[1:-1], temperature_c[2:]
    is_spike = (
        (np.abs(at - before) > SPIKE_C)
        & (np.abs(at - after) > SPIKE_C)
        & (np.abs(after - before) <= NEIGHBOURS_C)
        & (elapsed_h[2:] - elapsed_h[:-2] <= SPIKE_WITHIN_H)
    )
    found: list[int] = (np.flatnonzero(is_spike) + 1).tolist()
    return found


def stuck_spell(elapsed_h: FloatArray, temperature_c: FloatArray) -> tuple[int, int] | None:
    """Find the longest spell of one value in a record that otherwise moves: first and last reading."""
    moves = np.diff(temperature_c) != 0
    edges = np.flatnonzero(np.concatenate(([True], moves, [True])))
    first, last = edges[:-1], edges[1:] - 1
    longest = int(np.argmax(elapsed_h[last] - elapsed_h[first]))
    start, end = int(first[longest]), int(last[longest])
    n_spell = end - start
    n_outside = moves.size - n_spell
    if elapsed_h[end] - elapsed_h[start] < STUCK_H or n_spell + 1 < LEAST_STUCK or n_outside < LEAST_STUCK:
        return None
    return (start, end) if np.sum(moves) / n_outside >= MOVES_SHARE else None


def wrong_unit(curing: Curing, elapsed_h: FloatArray, temperature_c: FloatArray) -> str | None:
    """Say which unit a record is really in, None where it may well be in degrees C."""
    if curing == "heat" or temperature_c.size == 0:
        return None
    early = temperature_c[elapsed_h <= elapsed_h[0] + 1.0]
    begins_c, middle_c = float(np.median(early)), float(np.median(temperature_c))
    if begins_c >= HOT_FOR_UNHEATED_C and middle_c >= HOT_FOR_UNHEATED_C:
        as_c = celsius_from_fahrenheit(begins_c)
        return (
            f"it begins at {begins_c:.3g} C and stays about there, which unheated concrete does not; read as "
            f"degrees F it begins at {as_c:.3g} C. Name the column temperature_f, or state the unit"
        )
    if begins_c < COLD_FOR_FRESH_C and middle_c < COLD_FOR_FRESH_C:
        as_c = fahrenheit_from_celsius(begins_c)
        if 5.0 <= as_c <= 45.0:
            return (
                f"it begins at {begins_c:.3g} C, frozen; the numbers read as degrees C begin at {as_c:.3g} "
                "C. Name the column temperature_c, or state the unit"
            )
    return None
