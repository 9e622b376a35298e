"""The temperature that a maturity at an age speaks of: by hand, and back again."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.maturity import constant_maturity
from planner.maturity.implied_temperature import implied_temperature_c
from planner.terms.maturity import MaturitySetting


@pytest.mark.parametrize("temperature_c", [-8.0, 5.0, 20.0, 35.0, 80.0])
@pytest.mark.parametrize(
    "setting", [MaturitySetting("equivalent age", 4300.0, 23.0), MaturitySetting("temperature-time", -10.0, 20.0)]
)
def test_it_is_the_inverse_of_a_constant_temperature(setting: MaturitySetting, temperature_c: float) -> None:
    maturity_h = float(constant_maturity(np.array(17.0), temperature_c, setting))
    assert implied_temperature_c(maturity_h, 17.0, setting) == pytest.approx(temperature_c, abs=1e-6)


def test_by_hand() -> None:
    # 30 h at 20 C over a datum of 0 C within 24 h: 600 C h / 24 h = 25 C
    assert implied_temperature_c(30.0, 24.0, MaturitySetting("temperature-time", 0.0, 20.0)) == pytest.approx(25.0)
    assert implied_temperature_c(24.0, 24.0, MaturitySetting("equivalent age", 5000.0, 20.0)) == pytest.approx(20.0)
    assert implied_temperature_c(24.0, 12.0, MaturitySetting("age")) is None


def test_beyond_what_the_law_can_give_it_is_without_bound() -> None:
    # exp(5000 / 293.15) = 2.6e7 hours an hour is the most that an infinite temperature gives
    setting = MaturitySetting("equivalent age", 5000.0, 20.0)
    assert implied_temperature_c(1e9, 1.0, setting) == math.inf
