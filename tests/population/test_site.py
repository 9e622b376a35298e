"""Site temperatures: the range, the crossover effect, the table of errors."""

from __future__ import annotations

import numpy as np
import pytest

from planner.population import draw_cells, published_population, site_cautions
from planner.population.site import crossover_factor, site_temperatures
from planner.verdict.validation.temperature_errors import temperature_table
from tests.population.invented_breaks import plan


def test_checks_span_the_range() -> None:
    settings = plan(site_c=(12.0, 32.0))
    np.testing.assert_allclose(site_temperatures(settings, 20.0), [12.0, 17.0, 22.0, 27.0, 32.0])
    assert site_temperatures(settings, None) is None
    assert site_temperatures(plan(), 20.0) is None


@pytest.mark.parametrize(
    ("site_c", "standard_c", "codes"),
    [
        ((12.0, 35.0), 20.0, []),
        ((-5.0, 20.0), 20.0, ["site-range-looks-like-weather", "site-beyond-constants"]),
        ((6.0, 38.0), 20.0, ["site-range-looks-like-weather"]),
        ((20.0, 55.0), 20.0, ["site-range-looks-like-weather", "site-beyond-constants"]),
        ((20.0, 56.0), 20.0, ["site-heat-treated"]),
        ((60.0, 65.0), 20.0, ["site-heat-treated"]),
        ((60.0, 66.0), 20.0, ["site-heat-treated", "site-too-hot"]),
        ((60.0, 90.0), None, ["site-not-scored", "site-heat-treated", "site-too-hot"]),
        ((12.0, 35.0), None, ["site-not-scored"]),
    ],
)
def test_ranges_that_are_questioned(site_c: tuple[float, float], standard_c: float | None, codes: list[str]) -> None:
    assert [caution.code for caution in site_cautions(plan(site_c=site_c), standard_c)] == codes


@pytest.mark.parametrize(("warmest_c", "more"), [(70.0, "64 % more"), (90.0, "93 % more")])
def test_heat_treatment_is_told_what_the_clock_is_worth(warmest_c: float, more: str) -> None:
    """Derived by hand: exp(1000 (1/293.15 - 1/343.15)) = 1.644, with 363.15 in place of 343.15 1.930."""
    said = {caution.code: caution.text for caution in site_cautions(plan(site_c=(60.0, warmest_c)), 20.0)}
    assert f"1000 K higher an hour at {warmest_c:g} C counts {more} beside 20 C" in said["site-heat-treated"]
    assert "EN 13369 limits heat-treated precast products to 65 C" in said["site-too-hot"]
    assert "EN 13670 concrete cast in place to 70 C" in said["site-too-hot"]
    words = " ".join(said.values())
    assert "weather" not in words
    assert "Cool the concrete" not in words


def test_heat_treatment_without_a_standard_temperature_claims_no_rate() -> None:
    said = {caution.code: caution.text for caution in site_cautions(plan(site_c=(60.0, 90.0)), None)}
    assert "counts" not in said["site-heat-treated"]


def test_crossover_takes_late_strength_from_hot_curing() -> None:
    at = np.array([6.0, 24.0, 672.0, 672.0, 672.0])
    warmer = np.array([15.0, 15.0, 10.0, -10.0, 0.0])
    share = crossover_factor(at, warmer, loss=0.05)
    np.testing.assert_allclose(share, [1.0, 1.0, np.exp(-0.05), np.exp(0.05), 1.0])


def test_maturity_of_checks_follows_temperature() -> None:
    settings = plan(
        targets_h=(72.0,),
        site_c=(10.0, 30.0),
        ages_h=(24.0, 72.0, 168.0, 672.0),
        published="EN 1992-1-1 class N",
        strength_28d_mpa=50.0,
    )
    drawn = draw_cells(published_population(settings), settings, n_batches=60, seed=1)
    maturity = drawn.cells.checks.maturity_h[0, :5]
    # Q = 5000 K, reference 20 C: .5475 at 10 C and 1.7553 at 30 C
    np.testing.assert_allclose(maturity[[0, 2, 4]], [72.0 * 0.5475, 72.0, 72.0 * 1.7553], rtol=1e-3)
    truth = drawn.cells.checks.truth_mpa.reshape(-1, 5)
    assert np.all(np.diff(np.median(truth, axis=0)) > 0)
    assert [str(item) for item in drawn.cells.checks.condition[:2]] == ["drawn (10.0 C)", "drawn (15.0 C)"]
    np.testing.assert_allclose(drawn.cells.checks.weight, 0.2)


def test_table_by_hand() -> None:
    # two batches at two temperatures: errors +4 and +6 % cold, -2 and -2 % warm, scatter 3 %
    rows = temperature_table(
        np.array([0.04, -0.02, 0.06, -0.02]),
        np.full(4, 0.03**2),
        check_target=np.zeros(4),
        check_temperature_c=np.array([10.0, 30.0, 10.0, 30.0]),
        target_ages_h=(6.0,),
        tolerance=0.10,
    )
    cold, warm = rows
    assert (cold.temperature_c, warm.temperature_c) == (10.0, 30.0)
    assert cold.bias == pytest.approx(0.05)
    assert cold.rms == pytest.approx(np.sqrt((0.04**2 + 0.06**2) / 2 + 0.03**2))
    assert warm.rms == pytest.approx(np.sqrt(0.02**2 + 0.03**2))
    assert warm.low_05 == pytest.approx(-0.02 - 1.6449 * 0.03, abs=1e-4)
    assert warm.high_95 == pytest.approx(-0.02 + 1.6449 * 0.03, abs=1e-4)
    assert cold.over_predicted_beyond_tolerance == pytest.approx((0.02275 + 0.09121) / 2, abs=1e-4)  # z = 2, 4/3
    assert warm.within_tolerance == pytest.approx(0.99614, abs=1e-4)  # Phi(4) - Phi(-8/3)
