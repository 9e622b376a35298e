"""From the files of a trial batch to the issued curve: an independent fit, and every fault in a message."""

from __future__ import annotations

import csv
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize

from planner.after_casting.issuing import issue_curve
from planner.issued_curve.rules.acceptance import Verdict
from planner.read import load_later
from planner.terms.problems import InputError
from planner.terms.results.programme_figures import LaterPourFigures, Programme, Spending
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from tests.issued_curve.invented_curves import pour_model
from tests.issued_curve.trial_files import (
    PLAN,
    issued,
    recommendation,
    runway_plan,
    trial_rows,
    write_trial,
)
from tests.report.accounts.test_early_breaks import ANSWER

Q_K, REFERENCE_K = 5000.0, 293.15


def equivalent_age(temperatures: Path, batch: str, curing: str, placement: str, age_h: float) -> float:
    """Equivalent age [h at 20 C] from the file alone: each interval at its mean temperature, 20 C after the last."""
    with temperatures.open(encoding="utf-8") as stream:
        readings = [
            (float(row["elapsed_h"]), float(row["temperature_c"]))
            for row in csv.DictReader(stream)
            if (row["batch"], row["curing"], row["placement"]) == (batch, curing, placement)
        ]
    total = 0.0
    for (start, first), (end, second) in pairwise(readings):
        if start >= age_h:
            break
        until = min(end, age_h)
        at_end = first + (second - first) * (until - start) / (end - start)
        total += np.exp(-Q_K * (1 / ((first + at_end) / 2 + 273.15) - 1 / REFERENCE_K)) * (until - start)
    return total + max(age_h - readings[-1][0], 0.0)


def cells(breaks: Path, curing: str) -> dict[tuple[float, str], float]:
    """Mean strengths by age and place from the file alone."""
    found: dict[tuple[float, str], list[float]] = {}
    with breaks.open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            if row["curing"] == curing:
                found.setdefault((float(row["age_h"]), row["placement"]), []).append(float(row["strength_mpa"]))
    return {key: sum(values) / len(values) for key, values in found.items()}


def test_every_figure_of_the_sheet_equals_an_independent_fit(tmp_path: Path) -> None:
    issue = issued(tmp_path, "T1")
    breaks, temperatures = tmp_path / "trial.csv", tmp_path / "trial-temperatures.csv"
    standard = cells(breaks, "standard")
    maturity = np.array([equivalent_age(temperatures, "T1", "standard", "", age) for age, _ in standard])
    mean = np.array(list(standard.values()))

    def curve(p: np.ndarray, t: np.ndarray) -> np.ndarray:
        return p[0] * np.exp(-((p[1] / t) ** p[2]))

    fitted = optimize.least_squares(
        lambda p: curve(p, maturity) / mean - 1, (60.0, 8.0, 0.7), xtol=1e-15, ftol=1e-15, gtol=1e-15
    ).x
    assert issue.curve.batches[0].parameters == pytest.approx(fitted, rel=1e-4)
    factor = recommendation().honest.safe_reading_factor
    assert factor is not None
    for row in issue.table:
        assert row.strength_mpa == pytest.approx(curve(fitted, np.array([row.maturity_h]))[0], rel=1e-4)
        assert row.safe_mpa == pytest.approx(row.strength_mpa / factor)
    for reading in issue.readings:
        assert reading.strength_mpa == pytest.approx(curve(fitted, np.array([reading.age_h]))[0], rel=1e-4)
    site = cells(breaks, "site")
    assert issue.acceptance is not None
    assert len(issue.acceptance.checks) == len(site) == 4
    for check in issue.acceptance.checks:
        item = check.companions
        at = equivalent_age(temperatures, "T1", "site", item.placement, item.age_h)
        assert item.maturity_h == pytest.approx(at, rel=1e-6)
        read = curve(fitted, np.array([at]))[0]
        assert item.broken_mpa == pytest.approx(site[item.age_h, item.placement])
        assert item.difference == pytest.approx(site[item.age_h, item.placement] / read - 1, abs=1e-4)


def test_promises_are_those_of_the_recommendation(tmp_path: Path) -> None:
    found, issue = recommendation(), issued(tmp_path, "T1")
    assert found.honest.own_batch is not None
    assert found.honest.next_batch is not None
    promise = issue.curve.promise
    assert promise.own_rms == found.honest.own_batch.nested_rms
    assert promise.later_rms == found.honest.next_batch.rms_by_trial_batches[0]
    assert promise.safe_factor == found.honest.safe_reading_factor
    assert promise.companions_per_check == 3
    assert issue.check_sd == pytest.approx(np.sqrt(promise.later_rms**2 + promise.within_test_cv**2 / 3))
    assert (issue.curve.number, issue.curve.supersedes) == (1, None)
    assert dict(issue.curve.inputs).keys() == {
        "plan.toml", "breaks.csv", "temperatures.csv", "trial.csv", "trial-temperatures.csv",
    }  # fmt: skip


def test_two_trial_batches_are_read_by_their_mean(tmp_path: Path) -> None:
    issue = issued(tmp_path, "T1", "T2")
    one, two = (issue.curve.of_batch(name) for name in ("T1", "T2"))
    assert issue.curve.read(24.0) == pytest.approx((one.read(24.0) + two.read(24.0)) / 2)
    assert one.read(24.0) != pytest.approx(two.read(24.0), rel=1e-3)
    later = recommendation().honest.next_batch
    assert later is not None
    assert issue.curve.promise.later_rms == later.rms_by_trial_batches[1]
    assert issue.acceptance is not None
    for check in issue.acceptance.checks:  # companions are held against their own batch
        own = one if check.companions.batch == "T1" else two
        assert check.companions.read_mpa == pytest.approx(own.read(check.companions.maturity_h))


def test_curve_of_two_batches_spans_what_both_were_broken_at(tmp_path: Path) -> None:
    plan = runway_plan()
    assert plan.settings.programme is not None
    programme = replace(plan.settings.programme, trial_batches=2, most_trial_batches=None)
    plan = replace(plan, settings=replace(plan.settings, programme=programme))
    # T2 has neither the youngest nor the oldest age
    rows = [
        row for row in trial_rows("T1", "T2") if row.batch == "T1" or row.curing == "site" or 4.0 < row.age_h < 672.0
    ]
    given = load_later(PLAN, *write_trial(tmp_path, "T1", "T2", rows=rows))
    curve = issue_curve(plan, given, recommendation()).curve
    one, two = curve.batches
    assert curve.span_h == (two.knots_h[0], two.knots_h[-1])
    assert one.knots_h[0] < two.knots_h[0]
    assert one.knots_h[-1] > two.knots_h[-1]


def test_companions_are_judged(tmp_path: Path) -> None:
    accepted = issued(tmp_path, "T1").acceptance
    assert accepted is not None
    assert accepted.verdict is Verdict.ISSUE
    rows = [
        row._replace(strength_mpa=0.6 * row.strength_mpa) if row.curing == "site" else row for row in trial_rows("T1")
    ]
    given = load_later(PLAN, *write_trial(tmp_path, "T1", rows=rows))
    weak = issue_curve(runway_plan(), given, recommendation())
    assert weak.acceptance is not None
    assert weak.acceptance.verdict is Verdict.REPEAT
    assert "repeat" in {caution.code for caution in weak.cautions}


def codes(folder: Path, rows: list, *batches: str, found=None) -> set[str]:
    given = load_later(PLAN, *write_trial(folder, *(batches or ("T1",)), rows=rows))
    return {item.code for item in issue_curve(runway_plan(), given, found or recommendation()).cautions}


def test_what_is_odd_is_said(tmp_path: Path) -> None:
    rows = trial_rows("T1")
    five = replace(recommendation().recommended, schedule=Schedule((4.0, 8.0, 24.0, 72.0, 672.0), (3,) * 5))
    as_planned = recommendation(recommended=five)
    without_8_h = [row for row in rows if (row.curing, row.age_h) != ("standard", 8.0)]
    assert not {"ages-not-planned", "ages-missing"} & codes(tmp_path, rows, found=as_planned)
    assert "ages-missing" in codes(tmp_path, without_8_h, found=as_planned)
    four = replace(five, schedule=Schedule((4.0, 24.0, 72.0, 672.0), (3,) * 4))
    assert "ages-not-planned" in codes(tmp_path, rows, found=recommendation(recommended=four))
    assert "targets-without-companions" in codes(tmp_path, [row for row in rows if row.curing == "standard"])
    falling = [row._replace(strength_mpa=0.5 * row.strength_mpa) if row.age_h == 672.0 else row for row in rows]
    assert {"strength-falls", "lack-of-fit"} <= codes(tmp_path, falling)
    assert "another-mix" in codes(tmp_path, [row._replace(mix="slow mix") for row in rows])
    assert "trial-among-records" in codes(tmp_path, trial_rows("R1"), "R1")
    weak = [row._replace(strength_mpa=0.5 * row.strength_mpa) for row in rows]
    assert "stranger" in codes(tmp_path, weak)
    heated = [row._replace(curing="heat", specimen=f"h{row.specimen}") for row in rows if row.curing == "site"]
    assert "curing-not-used" in codes(tmp_path, [*rows, *heated])
    sound = {"stranger", "another-mix", "trial-among-records", "strength-falls", "curing-not-used"}
    assert not sound & codes(tmp_path, rows)


def test_without_a_later_pour_error_nothing_is_promised(tmp_path: Path) -> None:
    advice = recommendation()
    advice = replace(advice, honest=replace(advice.honest, next_batch=None))
    given = load_later(PLAN, *write_trial(tmp_path, "T1"))
    issue = issue_curve(runway_plan(), given, advice)
    assert issue.curve.promise.safe_factor is None
    assert all(row.safe_mpa is None for row in issue.table)
    assert issue.alarms is None
    assert {"no-safe-reading", "checks-without-limits"} <= {caution.code for caution in issue.cautions}


def test_without_an_own_batch_error_nothing_is_accepted(tmp_path: Path) -> None:
    advice = recommendation()
    advice = replace(advice, honest=replace(advice.honest, own_batch=None))
    given = load_later(PLAN, *write_trial(tmp_path, "T1"))
    issue = issue_curve(runway_plan(), given, advice)
    assert issue.acceptance is None
    assert "not-judged" in {caution.code for caution in issue.cautions}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda rows: rows[:3], "standard-cured breaks at 4 h alone; the exponential curve needs 3 ages"),
        (lambda rows: [row for row in rows if row.curing == "site"], "has no standard-cured break; the exponential"),
        (lambda rows: [row._replace(geometry="cube 100 mm") for row in rows], "cube 100 mm, the earlier batches"),
    ],
    ids=["one age", "site alone", "other geometry"],
)
def test_trial_that_cannot_be_fitted_is_refused(tmp_path: Path, change, message: str) -> None:
    given = load_later(PLAN, *write_trial(tmp_path, "T1", rows=change(trial_rows("T1"))))
    with pytest.raises(InputError, match=message):
        issue_curve(runway_plan(), given, recommendation())


def test_two_batches_where_one_is_planned_are_refused_with_every_fault(tmp_path: Path) -> None:
    rows = [row for row in trial_rows("T1", "T2") if row.batch == "T1" or row.age_h < 10]
    given = load_later(PLAN, *write_trial(tmp_path, "T1", "T2", rows=rows))
    with pytest.raises(InputError) as caught:
        issue_curve(runway_plan(), given, recommendation())
    texts = [problem.text for problem in caught.value.problems]
    assert len(texts) == 2
    assert "There are 2 batches (T1, T2) but the plan asks for one trial batch" in texts[0]
    assert 'Batch "T2" has standard-cured breaks at 4 h, 8 h alone' in texts[1]


def test_companions_without_temperature_are_read_at_standard_curing_and_that_is_said(tmp_path: Path) -> None:
    breaks, _ = write_trial(tmp_path, "T1")
    issue = issue_curve(runway_plan(), load_later(PLAN, breaks), recommendation())
    assert "no-temperature-on-site" in {caution.code for caution in issue.cautions}
    assert [group.maturity_h for group in issue.groups] == pytest.approx([6.0, 6.0, 24.0, 24.0])


def test_a_maturity_column_goes_before_a_record(tmp_path: Path) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1")
    lines = breaks.read_text(encoding="utf-8").splitlines()
    with_column = [lines[0] + ",maturity"]
    with_column += [line + (",7.5" if ",site,6," in line and "cool" in line else ",") for line in lines[1:]]
    breaks.write_text("\n".join(with_column), encoding="utf-8")
    issue = issue_curve(runway_plan(), load_later(PLAN, breaks, temperatures), recommendation())
    found = {(group.age_h, group.placement): group.maturity_h for group in issue.groups}
    assert found[6.0, "cool night"] == pytest.approx(7.5)
    assert found[6.0, "warm night"] != pytest.approx(7.5)


def test_a_target_too_early_for_cold_concrete_is_said(tmp_path: Path) -> None:
    # the trial's first break, 4 h in a warm curing room, has about 5 h of equivalent age: at 12 C that takes 8 h
    given = load_later(PLAN, *write_trial(tmp_path, "T1"))
    cautions = {item.code: item.text for item in issue_curve(runway_plan(), given, recommendation()).cautions}
    assert "at 6 h there is no reading in the cold" in cautions["too-cold-for-target"]
    advice = recommendation()
    warm = replace(advice, valid_for=replace(advice.valid_for, concrete_temperature_c=(19.0, 30.0)))
    assert "too-cold-for-target" not in {item.code for item in issue_curve(runway_plan(), given, warm).cautions}


def advised(n_trial_batches: int, *, factor: float | None = 1.11, is_extrapolated: bool = False) -> Recommendation:
    """The invented recommendation with a programme of so many trial batches."""
    advice = recommendation()
    choice = advice.recommended
    programme = Programme(
        n_trial_batches=n_trial_batches,
        schedule=choice.schedule,
        curve=choice.curve,
        weighting=choice.weighting,
        maturity=choice.maturity,
        own_batch_rms=0.03,
        own_batch_within_tolerance=0.95,
        next_batch=LaterPourFigures(
            rms=0.071,
            rms_se=None,
            rms_upper_95=None,
            within_tolerance=0.8,
            within_tolerance_lower_95=None,
            over_predicted_beyond_tolerance=0.1,
            worst_batch_rms=0.1,
            safe_reading_factor=factor,
            is_extrapolated=is_extrapolated,
        ),
        cost=None,
        n_visits=4,
        is_tied=True,
        is_enough=True,
        is_within_limits=True,
    )
    spending = Spending(
        judged_on="later pour", judged_because="", immaterial=0.0025, is_enough=True, recommended=programme,
        best=programme, programmes=(programme,), n_tied=1, sentences=(), helps=(), score=1.0,
        score_from_other_schedules=0.2, lowest=None,
    )  # fmt: skip
    return replace(advice, spending=spending)


@pytest.mark.parametrize(
    ("advice", "later_rms", "factor"),
    [
        (advised(2), 0.071, 1.11),
        (advised(3), None, None),
        (advised(2, factor=None), None, None),
        (advised(2, is_extrapolated=True), None, None),
    ],
    ids=["as advised", "another number", "no factor", "more than the records tell"],
)
def test_two_trial_batches_promise_what_the_programme_of_two_does(
    tmp_path: Path, advice: Recommendation, later_rms: float | None, factor: float | None
) -> None:
    plan = runway_plan()
    assert plan.settings.programme is not None
    programme = replace(plan.settings.programme, trial_batches=2, most_trial_batches=None)
    plan = replace(plan, settings=replace(plan.settings, programme=programme))
    promise = issue_curve(plan, load_later(PLAN, *write_trial(tmp_path, "T1", "T2")), advice).curve.promise
    plain = recommendation().honest  # otherwise the figures of one trial batch, which are no better
    assert plain.next_batch is not None
    assert promise.later_rms == (later_rms or plain.next_batch.rms_by_trial_batches[1])
    assert promise.safe_factor == (factor or plain.safe_reading_factor)


def test_fewer_trial_batches_than_advised_are_provisional(tmp_path: Path) -> None:
    given = load_later(PLAN, *write_trial(tmp_path, "T1"))
    assert "fewer-trial-batches" in {item.code for item in issue_curve(runway_plan(), given, advised(2)).cautions}
    assert "fewer-trial-batches" not in {item.code for item in issue_curve(runway_plan(), given, advised(1)).cautions}


def told_with_pours() -> Recommendation:
    return recommendation(early_breaks=replace(ANSWER, models=(pour_model(trials=()),)))


def test_the_curve_carries_what_pours_are_read_by(tmp_path: Path) -> None:
    given = load_later(PLAN, *write_trial(tmp_path, "T1"))
    issue = issue_curve(runway_plan(), given, told_with_pours())
    model = issue.curve.pour_model
    assert model is not None
    assert replace(model, trials=()) == pour_model(trials=())
    means = issue.fits[0].means
    (trial,) = model.trials
    assert [mean.maturity_h for mean in trial] == means.maturity_h.tolist()
    assert [mean.mean_mpa for mean in trial] == means.mean_mpa.tolist()
    assert [mean.n_specimens for mean in trial] == means.n_specimens.tolist()
    assert issue_curve(runway_plan(), given, recommendation()).curve.pour_model is None


def test_breaks_outside_the_maturities_of_the_records_read_no_pour_and_are_said(tmp_path: Path) -> None:
    """The first break of the trial batch is younger than anything in the records: the curve uses it, the model not."""
    given = load_later(PLAN, *write_trial(tmp_path, "T1"))
    first, second = issue_curve(runway_plan(), given, told_with_pours()).fits[0].means.maturity_h[:2].tolist()
    young = pour_model(trials=(), span_h=(second, 680.0))
    advice = recommendation(early_breaks=replace(ANSWER, models=(young,)))
    issue = issue_curve(runway_plan(), given, advice)
    assert issue.curve.pour_model is not None
    (trial,) = issue.curve.pour_model.trials
    assert [mean.maturity_h for mean in trial] == issue.fits[0].means.maturity_h[1:].tolist()
    said = next(item.text for item in issue.cautions if item.code == "trial-outside-records")
    assert f"4 h ({first:.1f} h)" in said
    assert f"from {second:.1f} to 680.0 h" in said
    sound = issue_curve(runway_plan(), given, told_with_pours())
    assert "trial-outside-records" not in {item.code for item in sound.cautions}


def test_as_many_trial_batches_as_were_cast_say_what_pours_are_read_by(tmp_path: Path) -> None:
    models = tuple(pour_model(trials=(), widening=1.0 + number) for number in (1, 2))
    given = load_later(PLAN, *write_trial(tmp_path, "T1"))
    issue = issue_curve(runway_plan(), given, recommendation(early_breaks=replace(ANSWER, models=models)))
    assert issue.curve.pour_model is not None
    assert issue.curve.pour_model.widening == 3.0


def test_a_trial_batch_unlike_the_earlier_ones_reads_no_pour(tmp_path: Path) -> None:
    weak = [row._replace(strength_mpa=0.6 * row.strength_mpa) for row in trial_rows("T1")]
    issue = issue_curve(runway_plan(), load_later(PLAN, *write_trial(tmp_path, "T1", rows=weak)), told_with_pours())
    assert issue.is_stranger
    assert issue.curve.pour_model is None


def test_a_refused_calibration_reads_no_pour(tmp_path: Path) -> None:
    apart = [
        row._replace(strength_mpa=0.7 * row.strength_mpa) if row.curing == "site" else row for row in trial_rows("T1")
    ]
    issue = issue_curve(runway_plan(), load_later(PLAN, *write_trial(tmp_path, "T1", rows=apart)), told_with_pours())
    assert issue.acceptance is not None
    assert issue.acceptance.verdict is Verdict.REPEAT
    assert not issue.is_stranger
    assert issue.curve.pour_model is None
