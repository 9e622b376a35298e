"""Batches held against all others as a trial batch is, by t tests written out here."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.issued_curve.calibration.expectation import strangers_among
from planner.terms.records import Break

AGES = (6.0, 24.0)


def breaks_of(logs: dict[str, list[float]]) -> list[Break]:
    return [
        Break(batch=name, mix="", curing="standard", age_h=age, tested_h=age, strength_mpa=float(np.exp(log)))
        for name, row in logs.items()
        for age, log in zip(AGES, row, strict=True)
    ]


def by_hand(logs: dict[str, list[float]]) -> dict[str, bool]:
    """5 % shared by the two ages and the mean level, two-sided, against a new batch of the others' scatter."""
    found = {}
    for name, row in logs.items():
        others = np.array([other for key, other in logs.items() if key != name])
        n = len(others)
        limit = stats.t.ppf(1.0 - 0.05 / 3.0 / 2.0, n - 1)
        columns = [*zip(others.T, row, strict=True), (others.mean(axis=1), float(np.mean(row)))]
        departures = [(own - them.mean()) / (them.std(ddof=1) * np.sqrt(1 + 1 / n)) for them, own in columns]
        found[name] = bool(np.max(np.abs(departures)) > limit)
    return found


@pytest.mark.parametrize("shift", [0.0, 0.15, 0.25, 0.32, 0.6])
def test_strangers_are_those_of_the_t_tests(shift: float) -> None:
    rng = np.random.default_rng(3)
    logs = {f"B{i}": list(np.log([20.0, 40.0]) + rng.normal(0.0, 0.08) + rng.normal(0.0, 0.03, 2)) for i in range(8)}
    logs["B4"] = [value - shift for value in logs["B4"]]
    found = strangers_among(breaks_of(logs), AGES)
    assert found == by_hand(logs)
    if shift == 0.6:
        assert [name for name, is_stranger in found.items() if is_stranger] == ["B4"]


def test_six_batches_beside_it_are_needed() -> None:
    rng = np.random.default_rng(4)
    logs = {f"B{i}": list(np.log([20.0, 40.0]) + rng.normal(0.0, 0.05, 2)) for i in range(7)}
    assert strangers_among(breaks_of(logs), AGES) == by_hand(logs)
    del logs["B6"]
    assert strangers_among(breaks_of(logs), AGES) is None


def test_site_cured_breaks_take_no_part() -> None:
    rng = np.random.default_rng(4)
    logs = {f"B{i}": list(np.log([20.0, 40.0]) + rng.normal(0.0, 0.05, 2)) for i in range(7)}
    site = Break(batch="B0", mix="", curing="site", age_h=6.0, tested_h=6.0, strength_mpa=1.0)
    assert strangers_among([*breaks_of(logs), site], AGES) == by_hand(logs)
