"""What is read off an issued curve: worked examples and laws."""

from __future__ import annotations

import numpy as np
import pytest

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.calibration.readings import (
    decision_strengths,
    decision_temperatures,
    hours_of,
    readings_of,
    table_of,
)
from planner.terms.maturity import MaturitySetting
from tests.issued_curve.invented_curves import hyperbola, issued_curve, promise

DATUM = MaturitySetting("temperature-time", 0.0, 20.0)


def test_hours_to_20_mpa_at_three_temperatures() -> None:
    # worked example, derived: 20 MPa is there at 4 + 20 x 20 / 30 = 17.333 h at 20 C; Q 5000 K: 31.7 h at 10, 9.9 h at
    # 30 C; with a factor of 1.27 at 25.4 MPa: 45.0, 24.7 and 14.0 h
    rows = hours_of(issued_curve(), (20.0,), (10.0, 20.0, 30.0))
    assert [round(row.likely_h or 0.0, 1) for row in rows] == [31.7, 17.3, 9.9]
    assert [round(row.safe_h or 0.0, 1) for row in rows] == [45.0, 24.7, 14.0]
    # 20 / 1.27 = 15.748 MPa at 4 + 20 x 15.748 / 34.252 = 13.195 h
    assert rows[1].earliest_h == pytest.approx(13.195, abs=5e-4)


def test_hours_outside_the_curve_are_not_given() -> None:
    rows = hours_of(issued_curve(), (45.0, 60.0), (20.0,))
    assert rows[0].likely_h is not None
    assert rows[0].safe_h is None  # 57.2 MPa are beyond 28 d
    assert rows[1].likely_h is None
    refused = hours_of(issued_curve(promise=promise(safe_factor=None)), (20.0,), (20.0,))[0]
    assert (refused.earliest_h, refused.safe_h) == (None, None)
    assert refused.likely_h == pytest.approx(17.333, abs=5e-4)


def test_nothing_accumulates_at_the_datum() -> None:
    assert hours_of(issued_curve(maturity=DATUM), (20.0,), (0.0,))[0].likely_h is None
    # at 10 C half the degrees above the datum of 20 C: twice the hours
    assert hours_of(issued_curve(maturity=DATUM), (20.0,), (10.0,))[0].likely_h == pytest.approx(2 * 17.3333, abs=1e-3)


def test_safe_reading_is_the_strength_over_the_factor() -> None:
    curve = issued_curve()
    # 50 x 20 / 40 = 25 MPa at 24 h
    assert curve.read(24.0) == pytest.approx(25.0)
    assert curve.safe(24.0) == pytest.approx(25.0 / 1.27)
    assert curve.safe(4.9) is None
    assert curve.safe(673.0) is None
    assert issued_curve(is_calibrated=False).safe(24.0) is None
    assert issued_curve(promise=promise(safe_factor=None)).safe(24.0) is None


def test_several_trial_batches_are_read_by_their_mean() -> None:
    curve = issued_curve(batches=(hyperbola(50.0), hyperbola(40.0, batch="T2")))
    assert curve.read(24.0) == pytest.approx((25.0 + 20.0) / 2)
    assert curve.of_batch("T2").read(24.0) == pytest.approx(20.0)
    assert curve.of_batch("none") is curve


def test_scaled_curve_bears_the_next_number() -> None:
    curve = issued_curve(number=3).scaled(0.9, number=4, span_h=(10.0, 30.0))
    assert (curve.number, curve.supersedes) == (4, 3)
    assert curve.read(24.0) == pytest.approx(22.5)
    assert curve.safe(24.0) == pytest.approx(22.5 / 1.27)
    assert curve.safe(31.0) is None
    assert curve.scaled(0.5, number=5, span_h=(10.0, 30.0)).read(24.0) == pytest.approx(11.25)


@pytest.mark.parametrize("strength", [5.0, 12.5, 25.0, 40.0, 48.0])
def test_maturity_of_a_strength_reads_that_strength(strength: float) -> None:
    maturity = issued_curve().maturity_at(strength)
    assert maturity is not None
    assert issued_curve().read(maturity) == pytest.approx(strength, rel=1e-9)


def test_a_falling_piece_is_waited_out() -> None:
    # straight pieces through 10, 20, 15, 30 MPa: 18 MPa are passed twice, the last time between 15 and 30
    curve = issued_curve(
        curve="piecewise linear",
        batches=(
            hyperbola().__class__(
                batch="T1",
                parameters=(10.0, 20.0, 15.0, 30.0),
                parameter_se=(0.0,) * 4,
                knots_h=(5.0, 10.0, 15.0, 30.0),
            ),
        ),
        span_h=(5.0, 30.0),
    )
    assert curve.maturity_at(18.0) == pytest.approx(15.0 + 15.0 * 3.0 / 15.0)


def test_strengths_outside_the_curve_have_no_maturity() -> None:
    curve = issued_curve()
    assert curve.maturity_at(1.0) is None  # below the first break: 2.38 MPa
    assert curve.maturity_at(49.0) is None  # beyond the last: 48.5 MPa


def test_table_has_ends_targets_and_round_maturities() -> None:
    rows = table_of(issued_curve())
    maturities = [row.maturity_h for row in rows]
    assert maturities == sorted(maturities)
    assert {5.0, 12.0, 24.0, 672.0} <= set(maturities)
    assert {10.0, 100.0} <= {round(maturity, 9) for maturity in maturities}
    assert 10 <= len(rows) <= 18
    assert min(np.diff(np.log(maturities))) > 0.039
    for row in rows:
        # formula written out: 50 (t - 4) / (t + 16)
        assert row.strength_mpa == pytest.approx(50 * (row.maturity_h - 4) / (row.maturity_h + 16))
        assert row.safe_mpa == pytest.approx(row.strength_mpa / 1.27)


def test_table_of_a_datum_is_round_in_degree_hours() -> None:
    assert maturity_unit(DATUM) == ("C h", 20.0)
    assert maturity_unit(MaturitySetting("temperature-time", -2.0, 20.0)) == ("C h", 22.0)
    written = [20.0 * row.maturity_h for row in table_of(issued_curve(maturity=DATUM))]
    assert {200.0, 1000.0} <= {round(value, 6) for value in written}


def test_readings_of_the_targets() -> None:
    first, second = readings_of(issued_curve())
    assert (first.age_h, second.age_h) == (12.0, 24.0)
    assert first.maturity_h == pytest.approx(12.0)  # 20 C is the reference
    assert first.strength_mpa == pytest.approx(50 * 8 / 28)
    assert second.safe_mpa == pytest.approx(25.0 / 1.27)
    assert second.assurance == 0.9
    # at 10 C the equivalent age is .5475 of the age (Q 5000 K, table of maturity factors)
    cool = readings_of(issued_curve(standard_c=10.0))[1]
    assert cool.maturity_h == pytest.approx(24 * 0.5475, abs=0.002)
    assert not readings_of(issued_curve(target_ages_h=(4.0,)))[0].is_inside
    assert readings_of(issued_curve(standard_c=None))[1].maturity_h == 24.0


def test_strengths_and_temperatures_that_are_timed() -> None:
    assert decision_strengths(issued_curve()) == (10.0, 25.0)  # readings 14.3 and 25.0
    assert decision_strengths(issued_curve(target_ages_h=(8.0, 7.0))) == (5.0,)  # 8.3 and 6.5 MPa
    # 5 MPa lie below the first break of a curve that begins at 6.5 h (5.6 MPa)
    assert decision_strengths(issued_curve(target_ages_h=(7.0,), span_h=(6.5, 672.0))) == (6.0,)
    assert decision_temperatures(issued_curve()) == (12.0, 21.0, 30.0)
    assert decision_temperatures(issued_curve(temperature_c=None)) == (10.0, 20.0, 30.0)
    assert decision_temperatures(issued_curve(temperature_c=(11.5, 29.5))) == (12.0, 20.0, 29.0)
    assert decision_temperatures(issued_curve(temperature_c=(20.2, 20.8))) == (20.2, 20.8)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"number": 0}, "number from 1"),
        ({"scale": 1.1}, "scale above 0 up to 1"),
        ({"batches": ()}, "a fitted batch"),
        ({"span_h": (12.0, 12.0)}, "rise from above 0 h"),
    ],
)
def test_impossible_curves_are_refused(given: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        issued_curve(**given)


def test_curves_compare_by_value() -> None:
    assert isinstance(issued_curve(), IssuedCurve)
    assert issued_curve() == issued_curve()


def test_a_plan_that_waits_names_the_strengths_that_are_timed() -> None:
    assert decision_strengths(issued_curve(waits_mpa=(22.5, 30.0))) == (22.5, 30.0)


@pytest.mark.parametrize(
    ("age_h", "maturity_h", "is_told"),
    [
        (12.0, 600.0, True),  # a target age, whatever its maturity
        (13.0, 17.333, True),  # reads 20 MPa
        (13.0, 14.05, True),  # 50 x 10.05 / 30.05 = 16.72 MPa, a little more than 20 / 1.2
        (13.0, 13.95, False),  # 16.61 MPa
        (13.0, 22.4615, True),  # 24 MPa at 4 + 20 x 24 / 26 = 22.46 h
        (13.0, 22.6, False),
    ],
)
def test_companions_near_the_strength_tell_of_it(age_h: float, maturity_h: float, is_told: bool) -> None:
    curve = issued_curve(target_ages_h=(12.0,), waits_mpa=(20.0,))
    assert curve.is_at_target(age_h, maturity_h) is is_told


def test_without_strengths_only_target_ages_tell() -> None:
    assert not issued_curve().is_at_target(13.0, 17.333)
