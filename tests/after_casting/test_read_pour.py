"""A pour read from its early breaks: figures by dense Gaussian conditioning, and every fault in a message."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, log, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.interpolate import CubicHermiteSpline

from planner.after_casting.pour_reading import read_pour
from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.pour_answer import PourAnswer, Unread
from planner.read import load_later
from planner.terms.problems import InputError
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from planner.terms.results.after_casting.pour_model import PourModel
from tests.issued_curve.invented_curves import issued_curve, pour_model
from tests.issued_curve.trial_files import PLAN, runway_plan, write_checks


def curve(model: PourModel | None = None, **given: Any) -> IssuedCurve:
    fields: dict[str, Any] = {
        "mix": "rapid panel mix",
        "target_ages_h": (6.0, 24.0),
        "inputs": runway_plan().inputs,
        "pour_model": pour_model() if model is None else model,
    }
    return issued_curve(**(fields | given))


def early(age_h: float, strength_mpa: float, maturity: float | str = "", **given: Any) -> dict[str, Any]:
    row = {
        "batch": "P1",
        "curing": "standard",
        "age_h": age_h,
        "specimen": f"{age_h}-{strength_mpa}",
        "strength_mpa": strength_mpa,
        "maturity": maturity,
    }
    return row | given


FOUR_HOURS = (early(4, 9.2, 5.1), early(4, 9.8, 5.1))
EIGHT_HOURS = (early(8, 17.0, 8.4),)


def answer_of(folder: Path, *rows: dict[str, Any], with_curve: IssuedCurve | None = None, site: str = "") -> PourAnswer:
    path = write_checks(folder / "pour.csv", rows)
    temperatures = None
    if site:
        temperatures = folder / "temperatures.csv"
        temperatures.write_text("batch,curing,elapsed_h,temperature_c\n" + site, encoding="utf-8")
    return read_pour(runway_plan(), with_curve or curve(), load_later(PLAN, path, temperatures))


@dataclass
class Dense:
    """The same model as one joint normal law of all means, conditioned by brute force."""

    model: PourModel

    def __post_init__(self) -> None:
        self.at = np.log([knot.maturity_h for knot in self.model.knots])
        log_mpa = np.log([knot.strength_mpa for knot in self.model.knots])
        self.mean = CubicHermiteSpline(self.at, log_mpa, [knot.slope for knot in self.model.knots])
        self.noise = [knot.noise for knot in self.model.knots]
        self.cv = [knot.cv for knot in self.model.knots]

    def conditioned(
        self, cells: list[tuple[float, float, int]], maturity_h: float, *, with_trials: bool
    ) -> tuple[float, float]:
        """Mean and variance of the log strength of the pour at a maturity, given (maturity, mean, n) of its cells."""
        model = self.model
        trials = model.trials if with_trials else ()
        found = [
            (batch, mean.maturity_h, mean.mean_mpa, mean.n_specimens)
            for batch, trial in enumerate(trials)
            for mean in trial
        ]
        found += [(99, *cell) for cell in cells]
        batch = np.array([item[0] for item in found] + [99])
        at = np.log(np.array([item[1] for item in found] + [maturity_h]))
        rows = np.stack([np.ones(len(at)), self.mean(at, 1)], axis=1)
        spread = np.diag([model.scale_sd**2, model.rate_sd**2])
        together = rows @ spread @ rows.T
        covariance = together / model.n_batches + np.where(batch[:, None] == batch[None, :], together, 0.0)
        scatter = [
            np.interp(m, self.at, self.cv) ** 2 / n for m, n in zip(at, [item[3] for item in found] + [1], strict=True)
        ]
        scatter[-1] = 0.0
        covariance += np.diag(np.array(scatter) + model.departure_sd**2 + np.interp(at, self.at, self.noise))
        if not found:
            return float(self.mean(at[-1])), float(covariance[-1, -1])
        known = np.log([item[2] for item in found]) - self.mean(at[:-1])
        gain = np.linalg.solve(covariance[:-1, :-1], covariance[:-1, -1])
        return float(self.mean(at[-1]) + gain @ known), float(covariance[-1, -1] - gain @ covariance[:-1, -1])


@pytest.mark.parametrize("reading", ["records", "records and trial"])
def test_readings_are_those_of_a_dense_normal_law(tmp_path: Path, reading: Any) -> None:
    model = pour_model(reading=reading)
    answer = answer_of(tmp_path, *FOUR_HOURS, *EIGHT_HOURS, with_curve=curve(model))
    dense, with_trials = Dense(model), reading != "records"
    law = stats.t(model.n_freedom)
    four, eight = (5.1, 9.5, 2), (8.4, 17.0, 1)
    for row, cells in zip(answer.rows, ([four], [four, eight]), strict=True):
        # no record of the pour: 6 h and 24 h at 20 C; the break at 8 h serves 1 d alone
        mean, variance = dense.conditioned(cells, row.age_h, with_trials=with_trials)
        sd = sqrt(1.21 * variance)
        assert row.maturity_h == pytest.approx(row.age_h)
        assert row.strength_mpa == pytest.approx(exp(mean), rel=1e-9)
        assert row.safe_mpa == pytest.approx(exp(mean - law.ppf(0.9) * sd), rel=1e-9)
        assert row.interval_mpa == pytest.approx((exp(mean - law.ppf(0.95) * sd), exp(mean + law.ppf(0.95) * sd)))
        assert row.curve_mpa == pytest.approx(50 * (row.age_h - 4) / (row.age_h + 16))
    assert [row.maturity_h for row in answer.table] == sorted(row.maturity_h for row in answer.table)
    assert min(row.maturity_h for row in answer.table) > 8.4
    for line in answer.table:
        mean, variance = dense.conditioned([four, eight], line.maturity_h, with_trials=with_trials)
        assert line.strength_mpa == pytest.approx(exp(mean), rel=1e-9)
        assert line.safe_mpa == pytest.approx(exp(mean - law.ppf(0.9) * sqrt(1.21 * variance)), rel=1e-9)
        assert line.curve_mpa == pytest.approx(50 * (line.maturity_h - 4) / (line.maturity_h + 16))
    assert "no-temperature-of-pour" in {caution.code for caution in answer.cautions}
    assert "no-independent-check" in {caution.code for caution in answer.cautions}


def test_stranger_is_told_by_f_at_its_limit(tmp_path: Path) -> None:
    """One mean: its squared distance over its variance, against F with 1 and 8 degrees of freedom."""
    model = pour_model(reading="records")
    dense = Dense(model)
    mean, variance = dense.conditioned([], 5.1, with_trials=False)
    variance += np.interp(log(5.1), dense.at, dense.cv) ** 2 / 2
    limit = stats.f(1, 8).ppf(0.99)
    for factor, is_stranger in ((0.99, False), (1.01, True)):
        broken = exp(mean - factor * sqrt(limit * variance))
        rows = (early(4, broken, 5.1, specimen="a"), early(4, broken, 5.1, specimen="b"))
        answer = answer_of(tmp_path, *rows, with_curve=curve(model))
        assert answer.strangeness.distance == pytest.approx(factor**2 * limit, rel=1e-6)
        assert answer.strangeness.limit == pytest.approx(limit)
        assert answer.is_stranger is is_stranger
        deficit = -log(1 - answer.strangeness.noticed_deficit)
        assert stats.ncf(1, 8, deficit**2 / variance).sf(limit) == pytest.approx(0.9, abs=1e-6)
        codes = {caution.code for caution in answer.cautions}
        assert ("pour-stranger" in codes) is is_stranger
        if is_stranger:
            assert all(row.strength_mpa is None and row.why_not is Unread.STRANGER for row in answer.rows)
            assert answer.table == ()
            said = next(caution.text for caution in answer.cautions if caution.code == "pour-stranger")
            for word in ("water", "clock", "sensor", "density", "set", "supplier", "responsible engineer"):
                assert word in said


def test_two_means_share_the_test(tmp_path: Path) -> None:
    model = pour_model(reading="records")
    answer = answer_of(tmp_path, *FOUR_HOURS, *EIGHT_HOURS, with_curve=curve(model))
    assert answer.strangeness.limit == pytest.approx(stats.f(2, 8).ppf(0.99))
    assert answer.strangeness.n_means == 2


def test_five_batches_cannot_tell_a_stranger_and_read_all_the_same(tmp_path: Path) -> None:
    model = pour_model(reading="records", n_batches=5)
    answer = answer_of(tmp_path, early(4, 3.2, 5.1), with_curve=curve(model))
    assert answer.strangeness.is_stranger is None
    assert not answer.is_stranger
    assert answer.rows[0].strength_mpa is not None
    said = next(caution.text for caution in answer.cautions if caution.code == "stranger-not-told")
    assert "cannot be told from 5 of them" in said
    assert f"{100 * answer.strangeness.noticed_deficit:.0f} %" in said
    six = answer_of(tmp_path, early(4, 9.5, 5.1), with_curve=curve(pour_model(n_batches=6)))
    assert six.strangeness.is_stranger is False


def record(temperature_c: float, *, until_h: int = 26, placement: str = "") -> str:
    del placement
    return "".join(f"P1,site,{hour},{temperature_c}\n" for hour in range(until_h + 1))


def test_the_record_that_a_pour_is_read_through_is_not_called_unused(tmp_path: Path) -> None:
    for site, is_told in ((record(25.0), False), (record(25.0) + "P2,site,0,20\nP2,site,1,20\n", True)):
        answer = answer_of(tmp_path, *FOUR_HOURS, site=site)
        assert ("temperature-unused" in {caution.code for caution in answer.cautions}) == is_told


def test_targets_are_read_at_the_maturity_of_the_pour(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *FOUR_HOURS, site=record(25.0))
    rate = exp(-5000 * (1 / 298.15 - 1 / 293.15))
    assert [row.maturity_h for row in answer.rows] == pytest.approx([6 * rate, 24 * rate, 26 * rate])
    assert [row.is_target for row in answer.rows] == [True, True, False]
    assert [row.temperature_c for row in answer.rows] == pytest.approx([25.0] * 3)
    dense = Dense(pour_model())
    for row in answer.rows:
        assert row.maturity_h is not None
        mean, _ = dense.conditioned([(5.1, 9.5, 2)], row.maturity_h, with_trials=True)
        assert row.strength_mpa == pytest.approx(exp(mean), rel=1e-9)
    assert "no-temperature-of-pour" not in {caution.code for caution in answer.cautions}


@pytest.mark.parametrize(("temperature_c", "is_outside"), [(10.9, True), (11.1, False), (30.9, False), (31.1, True)])
def test_outside_the_temperatures_there_is_no_safe_reading(
    tmp_path: Path, temperature_c: float, is_outside: bool
) -> None:
    """The curve holds from 12 to 30 C, one degree is let off."""
    answer = answer_of(tmp_path, *FOUR_HOURS, site=record(temperature_c))
    row = answer.rows[1]
    assert row.strength_mpa is not None
    assert (row.safe_mpa is None) is is_outside
    said = [caution.text for caution in answer.cautions if caution.code == "pour-outside-temperatures"]
    assert bool(said) is is_outside
    if said:
        assert f"{temperature_c:.1f} C" in said[0]
        assert "12 to 30 C" in said[0]


def test_nothing_is_read_beyond_the_record_or_the_records(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *FOUR_HOURS, site=record(12.0, until_h=10))
    # 6 h at 12 C are 3.7 h at 20 C, below the records; at 24 h the record has ended
    assert [row.why_not for row in answer.rows] == [Unread.OUTSIDE_MATURITY, Unread.RECORD_ENDS, None]
    said = [caution.text for caution in answer.cautions if caution.code == "target-not-read"]
    assert "its maturity of 3.7 h lies outside" in said[0]
    assert "4.8 to 680.0 h" in said[0]
    assert "the temperature record ends before" in said[1]


def test_maturity_just_below_the_records_is_let_off(tmp_path: Path) -> None:
    """5 % below the least of the records; an early break likewise."""
    model = pour_model(span_h=(6.31, 680.0))
    rows = (early(4, 9.2, 6.1),)
    assert answer_of(tmp_path, *rows, with_curve=curve(model)).rows[0].strength_mpa is not None
    model = pour_model(span_h=(6.33, 680.0))
    answer = answer_of(tmp_path, *rows, with_curve=curve(model))
    assert answer.rows[0].why_not is Unread.OUTSIDE_MATURITY
    assert answer.rows[1].why_not is None


def test_a_target_without_an_early_break_before_it_is_not_read(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *EIGHT_HOURS)
    assert [row.why_not for row in answer.rows] == [Unread.NO_BREAK_BEFORE, None]
    said = next(caution.text for caution in answer.cautions if caution.code == "target-not-read")
    assert said == "6 h is not read: no early break comes before it."


def test_a_break_at_the_last_target_is_let_be_where_another_came_before(tmp_path: Path) -> None:
    """It serves the table of maturities; the targets are read without it."""
    answer = answer_of(tmp_path, *FOUR_HOURS, early(24, 30.0, 25))
    alone = answer_of(tmp_path, *FOUR_HOURS)
    assert [row.strength_mpa for row in answer.rows] == [row.strength_mpa for row in alone.rows]
    assert answer.table[0].maturity_h > 25


def test_an_uncalibrated_curve_gives_no_safe_reading(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *FOUR_HOURS, with_curve=curve(is_calibrated=False))
    assert all(row.safe_mpa is None for row in (*answer.rows, *answer.table))
    assert answer.cautions[0].code == "not-calibrated"


def test_an_early_break_on_site_counts_at_its_own_maturity_and_is_said(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, early(5, 9.5, "", curing="site"), site=record(22.0))
    assert answer.early[0].maturity_h == pytest.approx(5 * exp(-5000 * (1 / 295.15 - 1 / 293.15)))
    assert "early-break-on-site" in {caution.code for caution in answer.cautions}


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ((*FOUR_HOURS, early(4, 9.0, 5.1, batch="P2")), r"There are 2 batches \(P1, P2\)"),
        ((early(4, 2.9, 5.1),), r"is 2.9 MPa, below the least strength that can be broken \(3 MPa"),
        (
            (early(4, 9.0, 4.5),),
            "has a maturity of 4.5 h at the reference temperature; the earlier batches begin at 4.8 h",
        ),
        (
            (early(20, 60.0, 690),),
            "maturity of 690.0 h at the reference temperature; the earlier batches end at 680.0 h",
        ),
        ((early(24, 30.0, 25),), "The first early break is at 1 d, not before the last target"),
        ((early(4, 9.0, 5.1, curing="heat"),), "There is no standard-cured or site-cured break"),
        ((early(4, 9.0, 5.1, mix="slow mix"),), 'of the mix "slow mix", the curve is for "rapid panel mix"'),
        ((early(4, 9.0, 5.1, geometry="cube 100 mm"),), "cube 100 mm, those of the curve cylinder 100x200 mm"),
    ],
)
def test_early_breaks_that_cannot_serve_are_refused(tmp_path: Path, rows: Any, message: str) -> None:
    with pytest.raises(InputError, match=message):
        answer_of(tmp_path, *rows)


def test_a_cool_break_without_its_temperatures_is_refused_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"maturity of 4.0 h .* give the temperatures of the specimens"):
        answer_of(tmp_path, early(4, 9.0))


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"mix": "slow mix"}, 'for the mix "slow mix", the plan for "rapid panel mix"'),
        ({"target_ages_h": (12.0,)}, "issued for targets at 12 h, the plan asks for 6 h, 1 d"),
        ({"inputs": (("plan.toml", "sha256:0"),)}, "plan.toml changed since the curve was issued"),
        ({"pour_model": None}, r"holds nothing to read pours by. Issue it from a plan with \[pours\]"),
    ],
)
def test_a_curve_that_cannot_serve_is_refused(tmp_path: Path, given: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        answer_of(tmp_path, *FOUR_HOURS, with_curve=replace(curve(), **given))
    assert caught.value.problems[0].file == "curve.json"


def test_a_curve_scaled_by_site_checks_reads_no_pour() -> None:
    assert curve().scaled(0.9, number=2, span_h=(5.0, 30.0)).pour_model is None


def test_a_batch_that_the_curve_knows_is_said(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, early(4, 9.0, 5.1, batch="R1"))
    assert "pour-among-records" in {caution.code for caution in answer.cautions}
    answer = answer_of(tmp_path, early(4, 9.0, 5.1, batch="T1"))
    assert "pour-among-records" in {caution.code for caution in answer.cautions}


def converted(folder: Path, **given: Any) -> PourAnswer:
    """The pour of FOUR_HOURS with cubes that count as they are, but for the error and the range of the conversion."""
    found = CurveConversion(
        from_geometry="cube 100 mm", to_geometry="cylinder 100x200 mm", form="ratio", factor=1.0, exponent=1.0,
        rms=0.02, span_mpa=(5.0, 60.0), n_pairs=12, n_batches=4,
    )  # fmt: skip
    rows = [row | {"geometry": "cube 100 mm"} for row in FOUR_HOURS]
    return answer_of(folder, *rows, with_curve=curve(geometry="cube 100 mm", conversion=replace(found, **given)))


def test_a_reading_is_never_surer_than_its_conversion(tmp_path: Path) -> None:
    plain, some, more = (converted(tmp_path, rms=rms).rows[0] for rms in (0.02, 0.3, 0.6))
    for row in (plain, some, more):
        assert row.strength_mpa == pytest.approx(plain.strength_mpa)
        assert row.strength_mpa is not None
        assert row.safe_mpa is not None
    below = [np.log(row.strength_mpa / row.safe_mpa) for row in (plain, some, more)]
    assert below[0] < below[1]
    assert below[2] == pytest.approx(2.0 * below[1])  # both beyond what the model itself leaves open


def test_beyond_the_pairs_a_pour_has_no_safe_reading(tmp_path: Path) -> None:
    read = converted(tmp_path).rows[0].strength_mpa
    assert read is not None
    assert converted(tmp_path, span_mpa=(5.0, 1.01 * read)).rows[0].safe_mpa is not None
    assert converted(tmp_path, span_mpa=(5.0, 0.99 * read)).rows[0].safe_mpa is None
    assert converted(tmp_path, span_mpa=(1.01 * read, 60.0)).rows[0].safe_mpa is None
    assert converted(tmp_path, span_mpa=None).rows[0].safe_mpa is not None
