"""Permitted age windows, by name and written out."""

from __future__ import annotations

import re

import pytest

from planner.terms.plan.tolerances import age_tolerances, check_ages_covered, permitted_deviation_h, permitted_window_h

# ASTM C39: read in a secondary source.
READ = [(24.0, 0.5), (72.0, 2.0), (168.0, 6.0), (672.0, 20.0), (2160.0, 48.0)]
# ASTM C39, from memory: the 2 % of unlisted ages too (4 h -> 4.8 minutes, 48 h -> 0.96 h).
FROM_MEMORY = [(12.0, 0.25), (1344.0, 40.0), (4.0, 0.08), (48.0, 0.96)]


@pytest.mark.parametrize(("age_h", "deviation_h"), READ + FROM_MEMORY)
def test_astm_c39_windows(age_h: float, deviation_h: float) -> None:
    early_h, late_h = permitted_window_h(age_h, standard="ASTM C39")
    assert early_h == pytest.approx(age_h - deviation_h)
    assert late_h == pytest.approx(age_h + deviation_h)


@pytest.mark.parametrize(
    ("age_h", "minutes"),
    [(24.0, 15), (48.0, 30), (72.0, 45), (168.0, 120), (672.0, 480)],  # from memory
)
def test_en_196_1_windows(age_h: float, minutes: float) -> None:
    assert permitted_deviation_h(age_h, standard="EN 196-1") == pytest.approx(minutes / 60)


def test_en_196_1_says_it_is_for_mortar_and_covers_nothing_else() -> None:
    assert "mortar" in age_tolerances("EN 196-1").note
    with pytest.raises(ValueError, match=re.escape('"EN 196-1" do not cover 12 h.')):
        permitted_window_h(12.0, standard="EN 196-1")


@pytest.mark.parametrize("name", ["ASTM C39", "astm c39", " ASTM  C39 ", "ASTM-C39"])
def test_a_standard_is_found_however_it_is_spaced(name: str) -> None:
    assert age_tolerances(name).name == "ASTM C39"


@pytest.mark.parametrize(
    ("text", "age_h", "deviation_h"),
    [
        ("24 h +-0.5 h, 7 d +-6 h", 24.0, 0.5),
        ("24 h +-0.5 h, 7 d +-6 h", 168.0, 6.0),
        ("24 h ± 30 min; 7 d ±6 h", 24.0, 0.5),
        ("1 d +/- 0,5 h,7 d +-0,25 d", 24.0, 0.5),
        ("1 d +/- 0,5 h,7 d +-0,25 d", 168.0, 6.0),
        ("10 h +-3 %", 10.0, 0.3),
        ("7 d +-6 h, other +-5 %", 12.0, 0.6),
    ],
)
def test_limits_written_out(text: str, age_h: float, deviation_h: float) -> None:
    assert permitted_deviation_h(age_h, standard=text) == pytest.approx(deviation_h)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("BS 99", r'"BS 99" are not known\. Allowed are "ASTM C39", "EN 196-1", or limits written out'),
        ("", "are not known"),
        ("24 h +-x h, 7 q +-6 h, 28 d +-20 h", r'cannot be read at "24 h \+-x h", "7 q \+-6 h"'),
        ("24 h +-0 h, 7 d +-6 h", r"above 0 and below its age, given 24 h \+-0 h"),
        ("1 h +-2 h", "below its age"),
        ("24 h +-1 h, 1 d +-2 h", "each age once"),
        ("other +-1 h", 'cannot be read at "other'),
        ("other +-1 %, other +-2 %", '"other" 2 times'),
        ("other +-150 %", "between 0 and 100 %, given 150 %"),
    ],
)
def test_limits_that_cannot_be_used(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        age_tolerances(text)


def test_every_uncovered_age_is_named_at_once() -> None:
    with pytest.raises(ValueError, match=r"do not cover 12 h, 48 h\. They cover 24 h, 168 h\."):
        check_ages_covered((12.0, 24.0, 48.0), standard="24 h +-0.5 h, 7 d +-6 h")
    check_ages_covered((12.0, 24.0, 48.0), standard="ASTM C39")


@pytest.mark.parametrize("age_h", [0.0, -1.0, float("nan"), float("inf")])
def test_an_age_must_be_a_positive_number(age_h: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        permitted_window_h(age_h, standard="ASTM C39")
