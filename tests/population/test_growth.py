"""Growth families: where they start, where they pass, and departures about them."""

from __future__ import annotations

import numpy as np
import pytest

from planner.population.growth_families import Family, families, hardening_h
from planner.population.smooth_departure import continued, outside, smooth_draws

FAMILIES = families(final_set_h=4.0)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)
def test_strength_rises_and_passes_the_reference(family: Family) -> None:
    generator = np.random.default_rng(4)
    middle = np.array([np.log(50.0), *(shape.mean for shape in family.shapes)])
    sd = np.array([0.1, *(shape.sd for shape in family.shapes)])
    parameters = middle + sd * generator.standard_normal((200, family.n_parameters))
    at = np.geomspace(1.0, 2000.0, 60)
    grown = family.log_strength(at, parameters, reference_h=672.0)
    assert grown.shape == (200, 60)
    assert np.all(np.isfinite(grown))
    assert np.all(np.diff(grown, axis=1) >= -1e-12)
    reference = family.log_strength(np.array([672.0]), parameters, reference_h=672.0)[:, 0]
    np.testing.assert_allclose(reference, parameters[:, 0], atol=1e-12)


@pytest.mark.parametrize(
    "family", [item for item in FAMILIES if item.name != "exponential"], ids=lambda item: item.name
)
def test_next_to_nothing_before_setting(family: Family) -> None:
    middle = np.array([np.log(50.0), *(shape.mean for shape in family.shapes)])
    before, day = np.exp(family.log_strength(np.array([2.0, 24.0]), middle[None], reference_h=672.0))[0]
    assert before < 0.02 * 50.0
    assert day > 5.0 * before


def test_hardening_by_hand() -> None:
    long_after = hardening_h(np.array([24.0]), np.array([np.log(4.0)]))
    assert long_after[0] == pytest.approx(20.0, abs=1e-6)
    at_setting = hardening_h(np.array([4.0]), np.array([np.log(4.0)]))
    assert at_setting[0] == pytest.approx(0.15 * 4.0 * np.log(2.0))


def test_departures_pass_through_what_is_known_and_widen_away() -> None:
    generator = np.random.default_rng(5)
    known_h = np.array([24.0, 72.0, 672.0])
    known = np.array([0.02, -0.01, 0.03])
    wanted = np.array([6.0, 24.0, 72.0, 672.0])
    drawn = np.array([continued(known, known_h, wanted, 0.05, generator) for _ in range(2000)])
    # seed 5: what is known has no chance in it; 2,000 draws know the deviation at 6 h to 1.6 %, and both limits stand
    # more than ten of these off
    np.testing.assert_allclose(drawn[:, 1:].mean(axis=0), known, atol=1e-3)
    assert np.all(drawn[:, 1:].std(axis=0) < 1e-3)
    # SE kernel of length 1 at ln 4 from the youngest: 1 - exp(-ln(4)^2) = .85 of the variance, less what 3 d adds
    assert 0.6 * 0.05 < drawn[:, 0].std() < 0.05


def test_smooth_draws_have_their_size() -> None:
    drawn = smooth_draws(np.array([6.0, 6.0, 700.0]), 0.04, 4000, np.random.default_rng(6))
    # seed 6, standard error of a standard deviation 1.1 %: beyond five of them in less than 1 of 1,000,000 runs
    np.testing.assert_allclose(drawn.std(axis=0), 0.04, rtol=0.056)
    np.testing.assert_allclose(drawn[:, 0], drawn[:, 1], atol=1e-6)


def test_what_is_outside_widens_with_distance_and_never_falls() -> None:
    generator = np.random.default_rng(7)
    known_h = np.array([24.0, 72.0, 672.0])
    at = np.array([3.0, 6.0, 12.0, 24.0, 100.0, 672.0, 2000.0])

    def law(maturity_h: np.ndarray) -> np.ndarray:
        return 0.3 * np.log(maturity_h)

    drawn = np.array([outside(at, known_h, law, generator) for _ in range(2000)])
    spread = drawn.std(axis=0)
    np.testing.assert_array_equal(spread[3:6], 0.0)
    assert spread[0] > spread[1] > spread[2] > 0.0
    assert spread[6] > 0.0
    assert np.all(np.diff((law(at) + drawn)[:, :4], axis=1) > 0)
    assert not outside(at, np.empty(0), law, generator).any()
