"""Bounds on the errors of new batches against printed tables and direct integration."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from planner.verdict.statistics.tolerance_bounds import (
    reach,
    rms_upper_bound,
    safe_reading_factor,
    tolerance_factor,
    true_rms_upper_bound,
)

# two-sided factors at 95 % confidence, in print to two or three decimals (e.g. ISO 16269-6; from memory)
TWO_SIDED = {
    0.95: {3: 9.789, 4: 6.341, 5: 5.077, 6: 4.422, 8: 3.746, 10: 3.393, 12: 3.175},
    0.90: {3: 8.306, 4: 5.368, 6: 3.733, 8: 3.156, 10: 2.856, 12: 2.670},
}


@pytest.mark.parametrize("content", [0.90, 0.95])
def test_two_sided_factors_are_those_in_print(content: float) -> None:
    for n_batches, printed in TWO_SIDED[content].items():
        factor = tolerance_factor(n_batches, content=content, confidence=0.95, sides=2)
        assert factor == pytest.approx(printed, abs=6e-4)


@pytest.mark.parametrize(("n_batches", "printed"), [(4, 3.188), (8, 2.219), (12, 1.966)])
def test_one_sided_factors_are_those_in_print(n_batches: int, printed: float) -> None:
    # 90 % content at 90 % confidence, Natrella 1963, NBS Handbook 91, table A-7 (from memory)
    factor = tolerance_factor(n_batches, content=0.90, confidence=0.90, sides=1)
    assert factor == pytest.approx(printed, abs=6e-4)


@pytest.mark.parametrize(("n_batches", "derived"), [(5, 1.9615), (8, 1.7399), (10, 1.6706)])
def test_one_sided_factors_of_the_lower_tenth_at_75_percent(n_batches: int, derived: float) -> None:
    # derived from the noncentral t: k = t(0.75; n - 1, z(0.90) sqrt(n)) / sqrt(n)
    factor = tolerance_factor(n_batches, content=0.90, confidence=0.75, sides=1)
    assert factor == pytest.approx(derived, abs=6e-5)


@pytest.mark.parametrize("sides", [1, 2])
@pytest.mark.parametrize(("content", "confidence"), [(0.5, 0.95), (0.9, 0.9), (0.99, 0.5)])
def test_factor_holds_its_content_with_its_confidence(sides: int, content: float, confidence: float) -> None:
    # seed 7; the share of 200,000 normal programmes lies within 5 standard errors but once in 2e6 runs
    generator = np.random.default_rng(7)
    n_batches, n_programmes = 5, 200_000
    mean = generator.standard_normal(n_programmes) / np.sqrt(n_batches)
    spread = np.sqrt(generator.chisquare(n_batches - 1, n_programmes) / (n_batches - 1))
    factor = tolerance_factor(n_batches, content=content, confidence=confidence, sides=1 if sides == 1 else 2)
    held = stats.norm.cdf(mean + factor * spread)
    if sides == 2:
        held = held - stats.norm.cdf(mean - factor * spread)
    assert np.mean(held >= content) == pytest.approx(
        confidence, abs=5 * np.sqrt(confidence * (1 - confidence) / n_programmes)
    )


def test_factor_sinks_to_the_normal_quantile_with_many_batches() -> None:
    assert tolerance_factor(200_000, content=0.95, confidence=0.5, sides=2) == pytest.approx(1.95997, abs=1e-4)
    assert tolerance_factor(200_000, content=0.95, confidence=0.5, sides=1) == pytest.approx(1.64486, abs=1e-4)


def test_rms_bound_by_hand() -> None:
    # chi-square 5 % point with 4 degrees of freedom .710723 (any table)
    assert rms_upper_bound([0.02, -0.02, 0.02, -0.02]) == pytest.approx(np.sqrt(0.0016 / 0.710723), rel=1e-6)


def test_rms_bound_sees_a_pure_bias() -> None:
    assert rms_upper_bound([0.1] * 6) > 0.1


@given(st.lists(st.floats(-0.5, 0.5), min_size=1, max_size=12), st.floats(0.1, 10.0))
def test_rms_bound_is_above_the_rms_and_scales(errors: list[float], scale: float) -> None:
    bound = rms_upper_bound(errors)
    assert bound >= np.sqrt(np.mean(np.square(errors)))
    assert rms_upper_bound(np.multiply(errors, scale)) == pytest.approx(scale * bound, rel=1e-9, abs=1e-12)


def test_true_rms_bound_by_hand() -> None:
    # without noise plain chi-square, 4 degrees of freedom: 5 % point .710723 (any table)
    bound = true_rms_upper_bound(0.02, noise=0.0, noise_share=1.0, n_batches=4)
    assert bound == pytest.approx(np.sqrt(4 * 0.0004 / 0.710723), rel=1e-6)
    # one check a batch: error and noise are spread together as one; only then is the noise taken out
    bound = true_rms_upper_bound(0.02, noise=0.0002, noise_share=1.0, n_batches=4)
    assert bound == pytest.approx(np.sqrt(4 * 0.0006 / 0.710723 - 0.0002), rel=1e-6)
    # four checks a batch, noise as large as the error: df = 4 x 4 / (1 + 3/4) = 9.142857
    bound = true_rms_upper_bound(0.02, noise=0.0004, noise_share=0.25, n_batches=4)
    quantile = stats.chi2.ppf(0.05, 64 / 7)
    assert bound == pytest.approx(np.sqrt(0.0008 * 64 / 7 / quantile - 0.0004), rel=1e-9)
    assert true_rms_upper_bound(0.0, noise=0.0, noise_share=1.0, n_batches=4) == 0.0


@given(st.floats(0.001, 0.3), st.floats(0.0, 0.01), st.floats(0.1, 1.0), st.integers(3, 30))
def test_true_rms_bound_is_above_the_rms_and_below_what_keeps_the_noise(
    rms: float, noise: float, share: float, n_batches: int
) -> None:
    bound = true_rms_upper_bound(rms, noise=noise, noise_share=share, n_batches=n_batches)
    kept = np.sqrt((rms**2 + noise) * n_batches / stats.chi2.ppf(0.05, n_batches))
    assert rms <= bound <= kept * (1 + 1e-9)


@pytest.mark.parametrize("wrong", [{"noise": -1.0}, {"noise_share": 0.0}, {"noise_share": 1.5}, {"n_batches": 0}])
def test_true_rms_bound_refuses_what_cannot_be(wrong: dict[str, float]) -> None:
    stated = {"noise": 0.0, "noise_share": 1.0, "n_batches": 4} | wrong
    with pytest.raises(ValueError, match="A bound needs a batch"):
        true_rms_upper_bound(0.02, **stated)  # type: ignore[arg-type]


def test_safe_reading_by_hand() -> None:
    errors = [0.00, 0.02, 0.04, 0.06]  # mean .03, sd .0258199
    expected = 1 + 0.03 + 3.187844 * 0.0258199
    assert safe_reading_factor(errors, assurance=0.9, confidence=0.9) == pytest.approx(expected, abs=1e-6)


def test_safe_reading_gives_no_credit_for_reading_low() -> None:
    assert safe_reading_factor([-0.30, -0.31, -0.29, -0.30], assurance=0.9, confidence=0.9) == 1.0


@pytest.mark.parametrize("errors", [[0.1], [0.1, -0.1]])
def test_no_safe_reading_from_one_or_two_batches(errors: list[float]) -> None:
    assert safe_reading_factor(errors, assurance=0.9, confidence=0.9) is None


@given(st.lists(st.floats(-0.3, 0.3), min_size=3, max_size=9), st.floats(0.001, 0.2))
def test_safe_reading_rises_with_over_prediction(errors: list[float], shift: float) -> None:
    lower = safe_reading_factor(errors, assurance=0.9, confidence=0.9)
    higher = safe_reading_factor(np.add(errors, shift), assurance=0.9, confidence=0.9)
    assert lower is not None
    assert higher is not None
    assert 1.0 <= lower <= higher + 1e-12


def test_reach_by_hand_and_without_a_spread() -> None:
    expected = 0.03 + 6.34110 * 0.0258199
    for sign in (1, -1):
        errors = [sign * error for error in (0.00, 0.02, 0.04, 0.06)]
        assert reach(errors, content=0.95, confidence=0.95) == pytest.approx(expected, abs=1e-4)
    assert reach([0.02], content=0.95, confidence=0.95) is None


@pytest.mark.parametrize(
    ("errors", "message"),
    [([], "given shape"), ([[0.1]], "given shape"), ([0.1, np.nan, np.inf], r"positions \[1, 2\]")],
)
def test_errors_that_cannot_be_used(errors: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        rms_upper_bound(errors)


def test_confidences_and_counts_that_cannot_be_used() -> None:
    with pytest.raises(ValueError, match="confidence 1"):
        rms_upper_bound([0.1], confidence=1.0)
    with pytest.raises(ValueError, match=r"content 0\.0, confidence 95"):
        tolerance_factor(4, content=0.0, confidence=95, sides=1)
    with pytest.raises(ValueError, match="2 or more batches, given 1"):
        tolerance_factor(1, content=0.9, confidence=0.9, sides=2)
    with pytest.raises(ValueError, match="1 or 2 sides, given 3"):
        tolerance_factor(4, content=0.9, confidence=0.9, sides=3)  # type: ignore[arg-type]
