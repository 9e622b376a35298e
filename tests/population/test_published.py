"""Published growth: its tables, and what it refuses to promise."""

from __future__ import annotations

import numpy as np
import pytest

from planner.population import LAWS, draw_cells, is_promising_nothing, published_first_line, published_population
from planner.population.published_growth import aci_209r, beta_cc, published_law, untreated_uhp
from planner.terms.problems import InputError
from tests.population.invented_breaks import plan

AGES_D = np.array([0.5, 1.0, 2.0, 3.0, 7.0, 14.0])
LATE_H = (24.0, 72.0, 168.0, 672.0)


def published(name: str, **kwargs: object):  # type: ignore[no-untyped-def]
    return plan(published=name, strength_28d_mpa=50.0, **kwargs)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("s", "expected"),
    [  # EN 1992-1-1:2004 (3.2), evaluated by hand
        (0.20, [0.2734, 0.4239, 0.5779, 0.6630, 0.8187, 0.9205]),
        (0.25, [0.1977, 0.3420, 0.5039, 0.5982, 0.7788, 0.9016]),
        (0.38, [0.0851, 0.1958, 0.3528, 0.4580, 0.6839, 0.8544]),
    ],
)
def test_beta_cc(s: float, expected: list[float]) -> None:
    np.testing.assert_allclose(beta_cc(AGES_D, s=s), expected, atol=5e-5)
    assert beta_cc(np.array([28.0]), s=s)[0] == pytest.approx(1.0, abs=1e-15)


def test_beta_cc_at_late_ages() -> None:
    # as printed with the formula in a concrete library's tests
    ages = np.array([9.0, 10.0, 27.0, 56.0, 365.0])
    expected = [0.8261668305, 0.84507490, 0.9954229681, 1.0759707794, 1.1981246270]
    np.testing.assert_allclose(beta_cc(ages, s=0.25), expected, rtol=1e-8)


def test_aci_209r_type_one_moist() -> None:
    # ACI 209R-92, a = 4.0, b = 0.85; its printed table .46 .70 .88 1.0 1.08 1.12 (from memory)
    ages = np.array([3.0, 7.0, 14.0, 28.0, 56.0, 91.0])
    exact = aci_209r(ages, a=4.0, b=0.85)
    np.testing.assert_allclose(exact, [0.458, 0.704, 0.881, 1.007, 1.085, 1.119], atol=6e-4)
    np.testing.assert_allclose(exact, [0.46, 0.70, 0.88, 1.0, 1.08, 1.12], atol=8e-3)


@pytest.mark.parametrize(
    ("name", "one_day"),  # 1 / (a + b)
    [
        ("Type I moist", 1 / 4.85),
        ("Type III moist", 1 / 3.22),
        ("Type I steam", 1 / 1.95),
        ("Type III steam", 1 / 1.68),
    ],
)
def test_each_aci_law_has_its_constants(name: str, one_day: float) -> None:
    law = published_law(f"ACI 209R {name}", (672.0,))
    assert law.share(np.array([1.0]))[0] == pytest.approx(one_day)


def test_ultra_high_performance_starts_late() -> None:
    shares = untreated_uhp(np.array([0.5, 0.9, 3.9]))
    np.testing.assert_allclose(shares, [0.0, 0.0, 1.0 - np.exp(-1.0)], atol=1e-12)


def test_ultra_high_performance_refuses_early_targets() -> None:
    settings = published("one untreated ultra-high-performance mix", targets_h=(24.0, 72.0))
    with pytest.raises(InputError, match=r"does not serve targets below 36 h, given 1 d"):
        published_population(settings)
    later = published("one untreated ultra-high-performance mix", targets_h=(48.0,), ages_h=(48.0, 72.0, 168.0, 672.0))
    assert published_population(later).law == "one untreated ultra-high-performance mix"


def test_an_unknown_law_names_the_nearest() -> None:
    with pytest.raises(InputError, match=r'Did you mean "EN 1992-1-1 class R"'):
        published_population(published("EN 1992-1 class R"))


def test_steam_growth_has_no_site() -> None:
    with pytest.raises(InputError, match=r"has no site temperatures"):
        published_population(published("ACI 209R Type I steam", site_c=(12.0, 30.0)))


def test_strength_is_needed() -> None:
    with pytest.raises(InputError, match=r"expected 28 d strength"):
        published_population(plan(published="EN 1992-1-1 class N"))


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_every_law_draws_around_itself(law) -> None:  # type: ignore[no-untyped-def]
    settings = published(law.name, targets_h=(72.0,), ages_h=LATE_H, final_set_h=0.0)
    cells = draw_cells(published_population(settings), settings, n_batches=200, seed=3).cells
    late = [2, 3]
    expected = 50.0 * law.share(np.array(LATE_H)[late] / 24.0) / law.share(np.array([28.0]))
    # 34 populations, each with 10 % in the 28 d strength: standard error of the median about 2.4 %
    np.testing.assert_allclose(np.median(cells.views.mean_mpa[:, late], axis=0), expected, rtol=0.10)


def test_first_line_and_silence_below_three_days() -> None:
    settings = published("EN 1992-1-1 class R", targets_h=(18.0, 72.0), ages_h=(18.0, *LATE_H))
    population = published_population(settings)
    assert published_first_line(population.law).startswith("This rests on published growth alone (EN 1992-1-1 class R)")
    assert is_promising_nothing(settings)
    assert not is_promising_nothing(published("EN 1992-1-1 class R", targets_h=(72.0,)))
    codes = [caution.code for caution in population.cautions]
    assert codes == ["published-growth-alone", "published-growth-promises-nothing"]
    assert "18 h" in population.cautions[1].text


def test_setting_can_leave_no_strength() -> None:
    early = published("EN 1992-1-1 class N", targets_h=(9.0,), ages_h=(9.0, *LATE_H), final_set_h=0.0)
    drawn = draw_cells(published_population(early), early, seed=2)
    # the law alone would give .15 of 50 MPa to every batch; setting near 5 h with a wide spread does not
    assert 0.0 < drawn.share_not_set < 0.5
    assert any(caution.code == "drawn-not-set" for caution in drawn.cautions)


def test_targets_before_setting_are_refused() -> None:
    settings = published("EN 1992-1-1 class N", targets_h=(3.0,), ages_h=LATE_H, final_set_h=6.0)
    with pytest.raises(InputError, match=r"have no strength yet at a target \(3 h\)"):
        draw_cells(published_population(settings), settings)
