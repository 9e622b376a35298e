"""Round numbers for axes, and ages for axes."""

from __future__ import annotations

import math
from collections.abc import Iterable

from planner.report.figures.drawing.plot import Axis
from planner.terms.labels import age_label

NICE_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
LEAST_GAP = 0.055  # of the axis, between two named ages


def linear_axis(title: str, highest: float, *, low: float = 0.0, is_percent: bool = False, n_steps: int = 5) -> Axis:
    """An axis from `low` to a round number at or above `highest`."""
    span = highest - low if highest > low else 1.0
    power = 10.0 ** math.floor(math.log10(span / n_steps))
    step = next(nice * power for nice in NICE_STEPS if nice * power * n_steps >= span * (1 - 1e-9))
    n_ticks = math.ceil(span / step - 1e-9)
    values = [low + step * count for count in range(n_ticks + 1)]
    ticks = tuple((value, f"{100 * value:g} %" if is_percent else f"{round(value, 9):g}") for value in values)
    return Axis(title=title, low=low, high=values[-1], ticks=ticks)


def age_axis(ages_h: Iterable[float], *, title: str = "age (logarithmic)") -> Axis:
    """A logarithmic axis over the ages; an age that would run into its neighbour stays unnamed."""
    ages = sorted(set(ages_h))
    low, high = ages[0] / 1.15, ages[-1] * 1.15
    ticks: list[tuple[float, str]] = []
    last = -math.inf
    for age in ages:
        place = math.log(age / low) / math.log(high / low)
        is_free = place - last >= LEAST_GAP
        ticks.append((age, age_label(age) if is_free else ""))
        last = place if is_free else last
    return Axis(title=title, low=low, high=high, ticks=tuple(ticks), is_log=True)


def log_axis(title: str, values: Iterable[float]) -> Axis:
    """A logarithmic axis over positive values, named at 1, 2 and 5 times the powers of ten."""
    given = list(values)
    low, high = min(given) / 1.05, max(given) * 1.05
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    named = [step * 10.0**power for power in powers for step in (1.0, 2.0, 5.0)]
    ticks = tuple((value, f"{value:g}") for value in named if low <= value <= high)
    return Axis(title=title, low=low, high=high, ticks=ticks, is_log=True)


def row_axis(names: Iterable[str]) -> Axis:
    """Named rows, the first on top."""
    rows = tuple(names)
    ticks = tuple((float(len(rows) - 1 - place), name) for place, name in enumerate(rows))
    return Axis(title="", low=-0.6, high=len(rows) - 0.4, ticks=ticks)
