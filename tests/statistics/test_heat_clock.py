"""The study of the clock under heat: by hand at one temperature, and the order of its figures."""

from __future__ import annotations

from math import exp

import numpy as np
import pytest

from planner.terms.maturity import MaturitySetting
from tests.statistics.heat_clock import HALF_H, OFFSET_H, TRUE, ULTIMATE_MPA, over_reading


def test_the_true_clock_and_unheated_concrete_are_read_right() -> None:
    for held in (20.0, 60.0, 90.0):
        assert over_reading(held, TRUE) == pytest.approx(0.0, abs=0.002)
    assert over_reading(20.0, MaturitySetting("temperature-time", 0.0, 20.0)) == pytest.approx(0.0, abs=1e-9)


def test_by_hand_at_60_c() -> None:
    """Truth needs 27 h at 20 C for half its strength; the rise is summed in small steps, the rest is constant."""

    def rate(q: float, c: float) -> float:
        return exp(-q * (1 / (c + 273.15) - 1 / 293.15))

    rise = np.linspace(20.0, 60.0, 4001)
    hours = {q: float(np.mean([rate(q, c) for c in rise])) * 40.0 / 15.0 for q in (5000.0, 4000.0)}
    held_h = (OFFSET_H + HALF_H - 4.0 - hours[5000.0]) / rate(5000.0, 60.0)
    told_h = 4.0 + hours[4000.0] + held_h * rate(4000.0, 60.0)
    since = told_h - OFFSET_H
    wanted = ULTIMATE_MPA * since / (since + HALF_H) / 30.0 - 1.0
    assert over_reading(60.0, MaturitySetting("equivalent age", 4000.0, 20.0)) == pytest.approx(wanted, abs=0.004)


def test_equivalent_age_does_better_than_the_temperature_time_factor() -> None:
    by_q = [abs(over_reading(75.0, MaturitySetting("equivalent age", q, 20.0))) for q in (4500.0, 5500.0)]
    by_datum = [abs(over_reading(75.0, MaturitySetting("temperature-time", d, 20.0))) for d in (-10.0, -5.0, 0.0)]
    assert max(by_q) < min(by_datum)
