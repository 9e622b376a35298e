"""Share of batches, or pours, with every target inside the tolerance: one batch, target and check after another."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from typing import Any

import numpy as np

CORRELATION = 0.8  # of errors at two targets of one unit
POINTS = [
    -3.5,
    -2.8,
    -2.1,
    -1.4,
    -0.7,
    0.0,
    0.7,
    1.4,
    2.1,
    2.8,
    3.5,
]  # that stand for the normal law of their common part


def below(z: float) -> float:
    """Share of the standard normal law."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def of_single_errors(rows: Iterable[tuple[Any, Any, float, bool]]) -> float:
    """Of rows (unit, target, weight, whether it is inside): the worst target of a unit is the unit's."""
    return _over_units((unit, target, weight, float(is_inside)) for unit, target, weight, is_inside in rows)


def of_normal_errors(rows: Iterable[tuple[Any, Any, float, float, float]], tolerance: float) -> float:
    """Of rows (unit, target, weight, mean, standard deviation): given the common part, targets are independent."""
    rows = list(rows)

    def chance(mean: float, deviation: float) -> float:
        return below((tolerance - mean) / deviation) - below((-tolerance - mean) / deviation)

    if len({target for _, target, *_ in rows}) == 1:
        return _over_units((unit, target, weight, chance(e, sd)) for unit, target, weight, e, sd in rows)
    found = density = 0.0
    for z in POINTS:
        moved = [
            (unit, target, weight, chance(e + math.sqrt(CORRELATION) * sd * z, math.sqrt(1.0 - CORRELATION) * sd))
            for unit, target, weight, e, sd in rows
        ]
        found += math.exp(-z * z / 2.0) * _over_units(moved, is_independent=True)
        density += math.exp(-z * z / 2.0)
    return found / density


def _over_units(rows: Iterable[tuple[Any, Any, float, float]], *, is_independent: bool = False) -> float:
    weights: dict[Any, dict[Any, list[tuple[float, float]]]] = defaultdict(lambda: defaultdict(list))
    for unit, target, weight, value in rows:
        weights[unit][target].append((weight, value))
    total = share = 0.0
    for targets in weights.values():
        at_targets = [
            sum(weight * value for weight, value in checks) / sum(weight for weight, _ in checks)
            for checks in targets.values()
        ]
        of_unit = sum(weight for checks in targets.values() for weight, _ in checks)
        share += of_unit * (math.prod(at_targets) if is_independent else min(at_targets))
        total += of_unit
    return share / total


def worst_targets(rows: Iterable[tuple[Any, Any, float, float]]) -> np.ndarray:
    """Weights of rows (unit, target, weight, error) if every unit counts by the target of largest mean square alone."""
    rows = list(rows)
    squares: dict[tuple[Any, Any], float] = defaultdict(float)
    weights: dict[tuple[Any, Any], float] = defaultdict(float)
    for unit, target, weight, error in rows:
        squares[unit, target] += weight * error**2
        weights[unit, target] += weight
    found = []
    for unit, target, weight, _ in rows:
        here = {other: squares[one, other] / weights[one, other] for one, other in squares if one == unit}
        whole = sum(weights[unit, other] for other in here)
        found.append(weight * whole / weights[unit, target] if target == max(here, key=lambda t: here[t]) else 0.0)
    return np.array(found)
