"""The recommended curve as an object: against closed forms that share no code with it."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from planner.questions.recommended_curve import RecommendedCurve, recommended_curve
from planner.questions.recommending import Advice
from planner.report.text import needed_library
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Prior
from planner.terms.problems import InputError
from tests.report.invented_result import invented_recommendation
from tests.report.sheets.test_workbook import SETTINGS

AGE_H = np.repeat([12.0, 24.0, 72.0, 672.0], 3)
STRENGTH_MPA = np.repeat([7.0, 14.5, 26.0, 39.0], 3) * np.tile([0.97, 1.0, 1.03], 4)
EQUIVALENT = MaturitySetting("equivalent age", 5000.0, 20.0)


def choice(curve: str, maturity: MaturitySetting, weighting: str = "absolute") -> Any:
    return SimpleNamespace(curve=curve, maturity=maturity, weighting=weighting)


def logarithmic(maturity: MaturitySetting = EQUIVALENT, **given: Any) -> RecommendedCurve:
    given = {"prior": Prior(standard_curing_c=20.0)} | given
    return recommended_curve(choice("logarithmic", maturity), given.pop("prior"), AGE_H, STRENGTH_MPA, **given)


def test_parameters_and_errors_are_those_of_a_weighted_line() -> None:
    # Ordinary least squares of the means on ln(age): (a, b) = M y, errors from the diagonal of M V M'.
    ages, means = np.unique(AGE_H), np.array([7.0, 14.5, 26.0, 39.0])
    matrix = np.column_stack([np.ones(4), np.log(ages)])
    hat = np.linalg.solve(matrix.T @ matrix, matrix.T)
    cv = np.sqrt(4 * 2 * 0.03**2 / (4 * 2))  # sum of (y / mean - 1)^2 over sum of n - 1, by hand
    variance = (cv * means) ** 2 / 3
    found = logarithmic().parameters
    assert list(found.index) == ["intercept_mpa", "slope_mpa"]
    np.testing.assert_allclose(found["value"], hat @ means, rtol=1e-10)
    np.testing.assert_allclose(found["standard_error"], np.sqrt((hat**2) @ variance), rtol=1e-10)
    np.testing.assert_allclose(logarithmic().predict([100.0]), [1.0, np.log(100.0)] @ (hat @ means), rtol=1e-10)


def test_a_temperature_record_in_and_strength_out() -> None:
    # At a steady 30 C an hour counts exp(5000 (1 / 293.15 - 1 / 303.15)) equivalent hours.
    factor = np.exp(5000.0 * (1 / 293.15 - 1 / 303.15))
    curve = logarithmic()
    elapsed_h, temperature_c = np.array([0.0, 10.0, 50.0]), np.full(3, 30.0)
    wanted = curve.predict(factor * np.array([10.0, 50.0]))
    read = curve.strength(elapsed_h, temperature_c)
    assert read[0] == 0.0
    np.testing.assert_allclose(read[1:], wanted, rtol=1e-9)
    np.testing.assert_allclose(curve.strength(elapsed_h, temperature_c, age_h=[10.0, 50.0]), wanted, rtol=1e-9)
    with pytest.raises(ValueError, match="60"):
        curve.strength(elapsed_h, temperature_c, age_h=[60.0])


def test_the_breaks_have_the_maturity_of_their_own_record() -> None:
    warm = logarithmic(elapsed_h=[0.0, 700.0], temperature_c=[30.0, 30.0])
    factor = np.exp(5000.0 * (1 / 293.15 - 1 / 303.15))
    np.testing.assert_allclose(warm.span_h, (12.0 * factor, 672.0 * factor), rtol=1e-9)
    assert logarithmic().span_h == pytest.approx((12.0, 672.0))


@pytest.mark.parametrize("curve", ["hyperbolic", "exponential", "piecewise linear", "piecewise linear in log age"])
def test_every_curve_shows_its_parameters(curve: str) -> None:
    fitted = recommended_curve(
        choice(curve, EQUIVALENT, "relative"), Prior(standard_curing_c=20.0), AGE_H, STRENGTH_MPA
    )
    assert len(fitted.parameters) == (4 if "piecewise" in curve else 3)
    assert fitted.parameters["standard_error"].gt(0).all()
    np.testing.assert_allclose(fitted.predict([12.0, 672.0]), [7.0, 39.0], rtol=0.05)
    assert curve in repr(fitted)
    assert "<table" in fitted._repr_html_()


def test_the_drawing_shows_curve_and_means(monkeypatch: pytest.MonkeyPatch) -> None:
    curve = logarithmic()
    axes = curve.plot()
    (line,) = [line for line in axes.get_lines() if len(line.get_xdata()) > 10]
    np.testing.assert_allclose(line.get_ydata(), curve.predict(line.get_xdata()), rtol=1e-12)
    (dots,) = [line for line in axes.get_lines() if len(line.get_xdata()) == 4]
    np.testing.assert_allclose(dots.get_ydata(), [7.0, 14.5, 26.0, 39.0], rtol=1e-9)
    assert curve.plot(axes) is axes
    monkeypatch.setattr(needed_library, "find_spec", lambda _name: None)
    with pytest.raises(InputError, match=re.escape('pip install "test-age-planner[figures]"')):
        curve.plot()


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"age_h": AGE_H[:-1]}, "shapes"),
        ({"strength_mpa": -STRENGTH_MPA}, "above 0, given -6.79 MPa at 12 h"),
        ({"elapsed_h": [0.0, 1.0]}, "both elapsed_h and temperature_c"),
        ({"prior": Prior()}, "states no standard_curing_c"),
        ({"age_h": np.full(12, 24.0)}, "2 or more maturities"),
    ],
)
def test_what_cannot_be_fitted_is_refused(given: dict[str, Any], message: str) -> None:
    full = {"prior": Prior(standard_curing_c=20.0), "age_h": AGE_H, "strength_mpa": STRENGTH_MPA} | given
    with pytest.raises(ValueError, match=message):
        recommended_curve(
            choice("logarithmic", EQUIVALENT), full.pop("prior"), full.pop("age_h"), full.pop("strength_mpa"), **full
        )


def test_advice_fits_what_it_recommends() -> None:
    advice = invented_recommendation()
    settings = replace(SETTINGS, prior=Prior(standard_curing_c=20.0))
    curve = Advice(advice, settings).curve(AGE_H, STRENGTH_MPA)
    assert curve.fit.fit.curve == advice.recommended.curve
    assert curve.maturity == advice.recommended.maturity
    wanted = recommended_curve(advice.recommended, settings.prior, AGE_H, STRENGTH_MPA)
    np.testing.assert_array_equal(curve.predict([100.0]), cast(Any, wanted).predict([100.0]))
