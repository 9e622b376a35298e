"""A pour read by the trial curve, multiplied by what its early breaks are of the curve there, by hand."""

from __future__ import annotations

from math import exp, log, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from planner.issued_curve.pour_answer import Unread
from planner.report.accounts.after_casting.pour_account import pour_account
from planner.terms.results.after_casting.pour_model import PourModel, Remainder
from tests.after_casting.test_read_pour import EIGHT_HOURS, FOUR_HOURS, answer_of, curve, early, record
from tests.issued_curve.invented_curves import pour_model

LEFT = (
    Remainder(ages_h=(4.0,), target_h=6.0, variance=0.0036),
    Remainder(ages_h=(4.0,), target_h=24.0, variance=0.0064),
    Remainder(ages_h=(4.0, 8.0), target_h=24.0, variance=0.0049),
)


def model(**given: Any) -> PourModel:
    return pour_model(reading="rescaled", remainders=LEFT, **given)


def hyperbola_mpa(at_h: float) -> float:
    return 50 * (at_h - 4) / (at_h + 16)


def by_hand(cells: list[tuple[float, float, int]], at_h: float, left: float) -> tuple[float, float]:
    """Log reading and its standard deviation from (maturity, mean, specimens); scatter straight in log maturity."""
    knots = model().knots
    scatter = [
        np.interp(log(m), [log(k.maturity_h) for k in knots], [k.cv for k in knots]) ** 2 / n for m, _, n in cells
    ]
    weight = np.array([1 / one for one in scatter]) / sum(1 / one for one in scatter)
    shift = sum(w * log(mean / hyperbola_mpa(m)) for w, (m, mean, _) in zip(weight, cells, strict=True))
    variance = 1.21 * (left + sum(w**2 * one for w, one in zip(weight, scatter, strict=True)))
    return log(hyperbola_mpa(at_h)) + shift, sqrt(variance)


def test_strength_interval_and_safe_reading_by_hand(tmp_path: Path) -> None:
    """Eight degrees of freedom of nine earlier batches."""
    answer = answer_of(tmp_path, *FOUR_HOURS, *EIGHT_HOURS, with_curve=curve(model()))
    four, eight, law = (5.1, 9.5, 2), (8.4, 17.0, 1), stats.t(8)
    for row, cells, left in zip(answer.rows, ([four], [four, eight]), (0.0036, 0.0049), strict=True):
        assert row.maturity_h is not None
        mean, sd = by_hand(cells, row.maturity_h, left)
        assert row.strength_mpa == pytest.approx(exp(mean), rel=1e-9)
        assert row.safe_mpa == pytest.approx(exp(mean - law.ppf(0.9) * sd), rel=1e-9)
        assert row.interval_mpa == pytest.approx((exp(mean - law.ppf(0.95) * sd), exp(mean + law.ppf(0.95) * sd)))
    assert answer.table
    for line in answer.table:
        assert 8.4 < line.maturity_h <= 24 * (1 + 1e-9)  # beyond the last target nobody judged the shift
        mean, sd = by_hand([four, eight], line.maturity_h, 0.0049)
        assert line.strength_mpa == pytest.approx(exp(mean), rel=1e-9)
        assert line.safe_mpa == pytest.approx(exp(mean - law.ppf(0.9) * sd), rel=1e-9)


def test_a_record_that_ends_between_the_targets_is_read_as_wide_as_the_wider_of_them(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *FOUR_HOURS, with_curve=curve(model()), site=record(20.0, until_h=12))
    six, day, end = answer.rows
    assert (six.why_not, day.why_not, end.why_not) == (None, Unread.RECORD_ENDS, None)
    mean, sd = by_hand([(5.1, 9.5, 2)], 12.0, 0.0064)
    assert end.strength_mpa == pytest.approx(exp(mean), rel=1e-9)
    assert end.safe_mpa == pytest.approx(exp(mean - stats.t(8).ppf(0.9) * sd), rel=1e-9)


def test_early_breaks_at_ages_that_were_not_judged_read_nothing_and_say_where_to_break(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *EIGHT_HOURS, with_curve=curve(model()))
    assert [row.why_not for row in answer.rows] == [Unread.NO_BREAK_BEFORE, Unread.NOT_JUDGED]
    said = [caution.text for caution in answer.cautions if caution.code == "target-not-read"]
    assert "It was with: 4 h for 6 h; 4 h for 1 d; 4 h, 8 h for 1 d" in said[1]
    near = answer_of(tmp_path, early(4.5, 10.0, 5.6), with_curve=curve(model()))
    assert near.rows[0].strength_mpa is not None
    far = answer_of(tmp_path, early(5, 10.0, 5.6), with_curve=curve(model()))
    assert far.rows[0].why_not is Unread.NOT_JUDGED


def test_nothing_is_read_outside_the_breaks_of_the_trial_batch(tmp_path: Path) -> None:
    """The curve begins at 5 h, 5 % are let off; an early break at 4.9 h is inside, with a curve from 5.4 h not."""
    rows = (early(4, 9.5, 4.9),)
    assert answer_of(tmp_path, *rows, with_curve=curve(model())).rows[0].strength_mpa is not None
    answer = answer_of(tmp_path, *rows, with_curve=curve(model(), span_h=(5.4, 672.0)))
    assert [row.why_not for row in answer.rows] == [Unread.OUTSIDE_CURVE] * 2
    said = next(caution.text for caution in answer.cautions if caution.code == "target-not-read")
    assert "5.4 to 672.0 h" in said
    short = answer_of(tmp_path, *FOUR_HOURS, with_curve=curve(model(), span_h=(5.0, 20.0)))
    assert [row.why_not for row in short.rows] == [None, Unread.OUTSIDE_CURVE]


def test_a_stranger_is_told_by_the_earlier_batches_all_the_same(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, early(4, 3.2, 5.1), with_curve=curve(model()))
    assert answer.is_stranger
    assert all(row.strength_mpa is None for row in answer.rows)


def test_the_account_says_what_the_pour_is_read_by(tmp_path: Path) -> None:
    text = str(pour_account(answer_of(tmp_path, *FOUR_HOURS, with_curve=curve(model()))))
    assert "the curve of the trial batch, multiplied by what the pour's own breaks are of its readings" in text


def test_remainders_are_of_a_rescaled_curve_alone() -> None:
    for reading, left in (("rescaled", ()), ("records", LEFT)):
        with pytest.raises(ValueError, match="Remainders are of a rescaled trial curve alone"):
            pour_model(reading=reading, remainders=left)
