"""The acceptable range of companions."""

from __future__ import annotations

import pytest
from scipy.stats import studentized_range

from planner.read.breaks.outlying import CV_OTHER, CV_SMALL_CYLINDER, RANGE_MULTIPLIERS, acceptable_range


@pytest.mark.parametrize("n_companions", RANGE_MULTIPLIERS)
def test_multipliers_are_points_of_the_studentised_range(n_companions: int) -> None:
    # ASTM C670 rounds 2.772, 3.314 and 3.633; beyond four specimens two decimals are kept.
    exact = float(studentized_range.ppf(0.95, n_companions, 1e6))
    assert RANGE_MULTIPLIERS[n_companions] == pytest.approx(exact, abs=0.035 if n_companions <= 4 else 0.006)


def test_published_ranges() -> None:
    # ASTM C39 acceptable ranges of two and three, from memory: 6.6 / 7.8 % and 9.0 / 10.6 %.
    assert acceptable_range(2, "cylinder 150x300 mm") == pytest.approx(0.066, abs=0.0015)
    assert acceptable_range(3, "cylinder 150x300 mm") == pytest.approx(0.078, abs=0.0015)
    assert acceptable_range(2, "cylinder 100x200 mm") == pytest.approx(0.090, abs=0.0005)
    assert acceptable_range(3, "cylinder 100x200 mm") == pytest.approx(0.106, abs=0.0005)


def test_more_companions_than_tabled_use_the_last() -> None:
    assert acceptable_range(50, "") == acceptable_range(20, "")
    assert CV_OTHER < CV_SMALL_CYLINDER
