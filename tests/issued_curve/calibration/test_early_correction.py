"""The correction table against a dense normal law: factors, their product, the divisor, and when there is no table."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log, sqrt

import pytest
from scipy import stats

from planner.issued_curve.calibration.early_correction import EarlyCorrection, PlannedEarly, early_correction
from planner.report.text.early_correction_words import correction_table
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from tests.after_casting.test_read_pour import Dense
from tests.issued_curve.invented_curves import EQUIVALENT_AGE, issued_curve, pour_model

FOUR = PlannedEarly(age_h=4.0, n_specimens=2, maturity_h=5.1)
EIGHT = PlannedEarly(age_h=8.0, n_specimens=1, maturity_h=8.4)
CURVE = issued_curve(target_ages_h=(6.0, 24.0), pour_model=pour_model())


def table() -> EarlyCorrection:
    found = early_correction(CURVE, (FOUR, EIGHT))
    assert found is not None
    return found


@pytest.mark.parametrize(("four", "eight"), [(0.85, 1.10), (1.0, 1.0), (1.20, 0.80)])
def test_strength_read_times_its_factors_is_the_reading_of_the_model(four: float, eight: float) -> None:
    found, dense = table(), Dense(pour_model())
    early, late = found.early
    for target, cells in zip(
        found.targets,
        (
            [(5.1, four * early.expected_mpa, 2)],
            [(5.1, four * early.expected_mpa, 2), (8.4, eight * late.expected_mpa, 1)],
        ),
        strict=True,
    ):
        mean, variance = dense.conditioned(cells, target.maturity_h, with_trials=True)
        factor = target.factors[found.shares.index(four)][0]
        if len(cells) > 1:
            factor *= target.factors[found.shares.index(eight)][1]
        ultimate, half, offset = CURVE.batches[0].parameters
        read = ultimate * (target.maturity_h - offset) / (target.maturity_h - offset + half)
        assert read * factor == pytest.approx(exp(mean), rel=1e-9)
        wide = stats.t(pour_model().n_freedom).ppf(0.9) * sqrt(pour_model().widening * variance)
        assert target.safe_divisor == pytest.approx(exp(wide), rel=1e-9)


def test_expected_means_are_those_before_anything_is_broken() -> None:
    dense = Dense(pour_model())
    for early, maturity in zip(table().early, (5.1, 8.4), strict=True):
        mean, _ = dense.conditioned([], maturity, with_trials=True)
        assert log(early.expected_mpa) == pytest.approx(mean, rel=1e-9)


def test_early_break_serves_only_the_targets_after_it() -> None:
    six, day = table().targets
    assert {len(line) for line in six.factors} == {1}
    assert {len(line) for line in day.factors} == {2}
    only = early_correction(CURVE, (EIGHT,))
    assert only is not None
    assert [target.age_h for target in only.targets] == [24.0]


def test_means_of_strangers_have_no_line() -> None:
    alike = pour_model(scale_sd=0.01, rate_sd=0.01, departure_sd=0.005)
    found = early_correction(replace(CURVE, pour_model=alike), (replace(FOUR, n_specimens=6),))
    assert found is not None
    assert found.shares[0] > 0.80
    assert found.shares[-1] < 1.20
    assert 1.0 in found.shares


def test_without_what_it_needs_there_is_no_table() -> None:
    assert early_correction(CURVE, ()) is None
    assert early_correction(CURVE, (FOUR, EIGHT, replace(EIGHT, age_h=9.0))) is None
    assert early_correction(replace(CURVE, pour_model=None), (FOUR,)) is None
    assert early_correction(replace(CURVE, is_calibrated=False), (FOUR,)) is None
    assert early_correction(CURVE, (replace(FOUR, maturity_h=4.0),)) is None  # below the least maturity of the records
    assert early_correction(CURVE, (replace(FOUR, age_h=24.0),)) is None  # no target after it


def test_words_round_to_the_safe_side() -> None:
    found = table()
    stated = correction_table(found, EQUIVALENT_AGE)
    assert stated.headings == (
        "share of expected",
        "mean at 4 h, MPa", "factor for 6 h", "factor for 1 d", "mean at 8 h, MPa", "factor for 1 d",
    )  # fmt: skip
    assert len(stated.rows) == len(found.shares)
    for place, row in enumerate(stated.rows):
        share, mean, six, day, later, second = map(float, row)
        assert share == found.shares[place]
        assert 0 <= mean - share * found.early[0].expected_mpa < 0.1
        assert 0 <= later - share * found.early[1].expected_mpa < 0.1
        assert 0 <= found.targets[0].factors[place][0] - six < 0.001
        assert 0 <= found.targets[1].factors[place][0] - day < 0.001
        assert 0 <= found.targets[1].factors[place][1] - second < 0.001
    assert "2 standard-cured at 4 h and 1 standard-cured at 8 h" in stated.how
    assert "near 6.0 h" in stated.how
    assert "factors of both ages multiplied" in stated.how


def test_means_of_a_converted_curve_stand_as_they_are_broken() -> None:
    found = table()
    half = CurveConversion(
        from_geometry="cube 150 mm", to_geometry="cylinder 150x300 mm", form="power law", factor=0.5, exponent=1.1,
        rms=0.02, span_mpa=(5.0, 60.0), n_pairs=9, n_batches=4,
    )  # fmt: skip
    stated, plain = correction_table(found, EQUIVALENT_AGE, half), correction_table(found, EQUIVALENT_AGE)
    for row, as_read in zip(stated.rows, plain.rows, strict=True):
        assert (row[0], row[2]) == (as_read[0], as_read[2])
        # S = 0.5 x^1.1, so x = (2 S)^(1 / 1.1)
        broken = (2.0 * float(row[0]) * found.early[0].expected_mpa) ** (1.0 / 1.1)
        assert 0 <= float(row[1]) - broken < 0.1 + 1e-9
    assert "(cube 150 mm, means as broken)" in stated.how
