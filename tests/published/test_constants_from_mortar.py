"""Q and the datum from mortar broken at three temperatures: the steps of the annex of ASTM C1074 (from memory)."""

from __future__ import annotations

import numpy as np

from planner.fitting.single import fit_curve
from planner.maturity import arrhenius_factor

TEMPERATURES_C = (8.0, 23.0, 38.0)
RATES_PER_DAY = (0.2438, 0.6000, 1.3540)
AGES_D = {8.0: (2.0, 4.0, 8.0, 16.0, 32.0, 64.0), 23.0: (1, 2, 4, 8, 16, 32), 38.0: (0.5, 1, 2, 4, 8, 16)}
ULTIMATE_MPA, OFFSET_D = 50.0, 0.2


def mortar_mpa(age_d, rate_per_day):
    """The annex's law, ``Su k (t - t0) / (1 + k (t - t0))``."""
    since = rate_per_day * (np.asarray(age_d, dtype=float) - OFFSET_D)
    return ULTIMATE_MPA * since / (1.0 + since)


def test_breaks_give_rates_and_rates_give_the_constants():
    found = []
    for temperature_c, rate in zip(TEMPERATURES_C, RATES_PER_DAY, strict=True):
        ages_h = 24.0 * np.array(AGES_D[temperature_c])
        fit = fit_curve("hyperbolic", ages_h, mortar_mpa(ages_h / 24.0, rate), weighting="absolute")
        ultimate, half_h, offset_h = fit.parameters
        np.testing.assert_allclose([ultimate, offset_h / 24.0], [ULTIMATE_MPA, OFFSET_D], rtol=1e-5)
        found.append(24.0 / half_h)
    np.testing.assert_allclose(found, RATES_PER_DAY, rtol=1e-5)
    inverse_k = 1.0 / (np.array(TEMPERATURES_C) + 273.15)
    q_k = -np.polyfit(inverse_k, np.log(found), 1)[0]
    slope, level = np.polyfit(TEMPERATURES_C, found, 1)
    # Derived from the rates above: Q 4999 K, and a straight line through the rates meets zero at 3.2 C.
    assert round(q_k) == 4999
    assert round(-level / slope, 1) == 3.2
    # The maturity functions turn these constants back into the ratios of the rates.
    ratios = np.array(found) / found[1]
    told = arrhenius_factor(np.array(TEMPERATURES_C), q_k=q_k, reference_c=23.0)
    np.testing.assert_allclose(told, ratios, rtol=0.02)
