"""The careful constant alone: what ties, what exceeds what at the ends of the site's range, what is said."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from planner.report.accounts.parts.constants_account import constants_section
from planner.report.text.plain_blocks import plain_sections
from planner.terms.maturity import MaturitySetting
from planner.terms.results.constants import CarefulConstant
from planner.verdict.selection.careful_constant import careful_of, excess, tied_constants
from tests.read.test_mortar_file import study
from tests.report.invented_result import invented_recommendation


def by_q(*values: float) -> list[MaturitySetting]:
    return [MaturitySetting("equivalent age", q, 20.0) for q in values]


def by_datum(*values: float) -> list[MaturitySetting]:
    return [MaturitySetting("temperature-time", datum, 20.0) for datum in values]


def test_ties_are_within_the_immaterial_of_the_least_in_every_error() -> None:
    first, second = np.array([0.100, 0.102, 0.103, np.nan]), np.array([0.05, 0.04, 0.042, 0.04])
    assert tied_constants([first], 0.0025).tolist() == [True, True, False, False]
    assert tied_constants([first, second], 0.0025).tolist() == [False, True, False, False]
    assert tied_constants([np.full(2, np.nan), second[:2]], 0.02).tolist() == [True, True]


def test_published_rates_at_35_c() -> None:
    # 1.94, 2.29, 2.71 for Q 4000, 5000, 6000 at 35 C (derived)
    over = excess(by_q(4000.0, 5000.0, 6000.0), (20.0, 35.0))
    np.testing.assert_allclose(over[:, 1], [0.0, 2.29 / 1.94 - 1, 2.71 / 1.94 - 1], atol=0.005)
    np.testing.assert_allclose(over[:, 0], 0.0, atol=1e-12)


@pytest.mark.parametrize(("site_c", "wanted"), [((20.0, 35.0), 4000.0), ((2.0, 20.0), 6000.0), ((5.0, 35.0), 5000.0)])
def test_hot_sites_take_a_low_q_and_cold_ones_a_high_one(site_c: tuple[float, float], wanted: float) -> None:
    settings = by_q(4000.0, 5000.0, 6000.0)
    assert settings[careful_of(settings, site_c)].constant == wanted


def test_cold_sites_take_a_high_datum() -> None:
    settings = by_datum(-10.0, -5.0, 0.0)
    assert settings[careful_of(settings, (5.0, 20.0))].constant == 0.0
    assert settings[careful_of(settings, (20.0, 40.0))].constant == -10.0


def test_concrete_below_a_datum() -> None:
    over = excess(by_datum(-10.0, 5.0), (4.0, 20.0))
    assert over[0, 0] == inf
    assert over[1, 0] == 0.0
    np.testing.assert_array_equal(excess(by_datum(5.0, 6.0), (0.0, 20.0))[:, 0], 0.0)


def careful(tied: tuple[float, ...]) -> CarefulConstant:
    return CarefulConstant(
        method="equivalent age", tied=tied, chosen=4500.0, site_c=(5.0, 30.0), over_reading=0.0215, worst_c=5.0
    )


def test_the_choice_is_said() -> None:
    advice = replace(invented_recommendation(), constants=study(), careful=careful((4000.0, 4500.0, 5000.0)))
    text = " ".join(plain_sections((constants_section(advice),)).split())
    assert "Q 4000, 4500, 5000 K tie, on later pours and on the own batch. 4500 K is taken: from 5 to 30 C" in text
    assert "at most by 2.1 %, at 5 C. Every safe reading is lowered by that" in text
    alone = replace(advice, careful=careful((4500.0,)))
    assert "Q 4500 K alone reads so well" in " ".join(plain_sections((constants_section(alone),)).split())
    assert "tie, on later" not in plain_sections((constants_section(replace(advice, careful=None)),))
