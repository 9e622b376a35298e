"""The mean curve of the earlier batches, where nothing is cast: against the files alone, and when it is refused."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from planner.after_casting.records_issuing import issue_records_curve
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.records_curve import common_ages, curve_of_prior
from planner.mixed_model import GrowthPrior, PriorBatches, mean_curve
from planner.read.curve_file import read_curve
from planner.report.documents.pages.curve_sheet import render_curve_sheet
from planner.report.documents.values.curve_document import curve_document
from planner.report.documents.values.recommendation_document import write_json
from planner.report.text.curve_status_words import is_usable, status_words
from planner.terms.plan.settings import Plan
from planner.terms.problems import InputError
from tests.after_casting.test_issue_curve import equivalent_age
from tests.issued_curve.trial_files import PLAN, recommendation, runway_plan

BREAKS, TEMPERATURES = (PLAN.with_name(name) for name in ("breaks.csv", "temperatures.csv"))


def relying(plan: Plan | None = None, **prior: object) -> Plan:
    """The plan of the repository, casting nothing."""
    plan = plan or runway_plan()
    programme = replace(plan.settings.programme_asked, relies_on_records=True)
    settings = replace(plan.settings, programme=programme, prior=replace(plan.settings.prior, **prior))  # type: ignore[arg-type]
    return replace(plan, settings=settings)


@pytest.fixture(scope="module")
def issue() -> Issue:
    return issue_records_curve(relying(), recommendation())


def logs_of_batches() -> dict[str, dict[float, tuple[float, float]]]:
    """Log maturity and log mean of every batch at every age, standard-cured, from the files alone."""
    found: dict[tuple[str, float], list[float]] = {}
    with BREAKS.open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            if row["curing"] == "standard" and not row.get("void"):
                found.setdefault((row["batch"], float(row["age_h"])), []).append(float(row["strength_mpa"]))
    logs: dict[str, dict[float, tuple[float, float]]] = {}
    for (batch, age), strengths in found.items():
        maturity = equivalent_age(TEMPERATURES, batch, "standard", "", age)
        logs.setdefault(batch, {})[age] = (np.log(maturity), np.log(np.mean(strengths)))
    return logs


def mean_of(logs: list[dict[float, tuple[float, float]]]) -> PchipInterpolator:
    ages = sorted(logs[0])
    maturity, strength = ([np.mean([log[age][place] for log in logs]) for age in ages] for place in (0, 1))
    return PchipInterpolator(maturity, strength)


def test_curve_is_the_mean_of_the_logarithms(issue: Issue) -> None:
    mean = mean_of(list(logs_of_batches().values()))
    for row in issue.table:  # the mixed model weighs batches by specimens and maturity
        assert row.strength_mpa == pytest.approx(np.exp(mean(np.log(row.maturity_h))), rel=6e-3)
    curve = issue.curve
    knots, strengths = np.array(curve.batches[0].knots_h), np.array(curve.batches[0].parameters)
    exact = PchipInterpolator(np.log(knots), np.log(strengths))
    for maturity in np.geomspace(knots[0], knots[-1], 23):
        assert curve.read(float(maturity)) == pytest.approx(float(np.exp(exact(np.log(maturity)))), rel=1e-9)


def test_error_is_that_of_batches_read_from_the_others(issue: Issue) -> None:
    logs = logs_of_batches()
    errors: list[float] = []
    with BREAKS.open(encoding="utf-8") as stream:
        site: dict[tuple[str, float, str], list[float]] = {}
        for row in csv.DictReader(stream):
            if row["curing"] == "site" and float(row["age_h"]) in issue.curve.target_ages_h and not row.get("void"):
                site.setdefault((row["batch"], float(row["age_h"]), row["placement"]), []).append(
                    float(row["strength_mpa"])
                )
    for (batch, age, placement), strengths in site.items():
        others = mean_of([log for name, log in logs.items() if name != batch])
        maturity = equivalent_age(TEMPERATURES, batch, "site", placement, age)
        errors.append(float(np.exp(others(np.log(maturity)))) / np.mean(strengths) - 1)
    raw = float(np.sqrt(np.mean(np.square(errors))))
    later = issue.curve.promise.later_rms
    assert later is not None
    assert 0.9 * raw < later < raw  # the scatter of the companions is taken out
    assert issue.curve.promise.safe_factor == pytest.approx(np.exp(1.4 * later), rel=0.05)  # t, 90 % one-sided


def test_sheet_says_that_nothing_was_cast(issue: Issue) -> None:
    assert is_usable(issue)
    assert (issue.curve.basis, issue.curve.curve, issue.curve.n_curves()) == ("records", "records", 9)
    assert "No trial batch was cast" in status_words(issue)
    page = render_curve_sheet(issue)
    assert "No trial batch was cast: this is the mean of 9 earlier batches of the same mix." in page
    assert "NOT CALIBRATED" not in page
    assert "curve of the earlier batches is withdrawn by chance" in page
    assert "no-trial-batch" in {item.code for item in issue.cautions}
    assert issue.alarms is not None
    assert issue.acceptance is None


def test_curve_reads_back(issue: Issue, tmp_path: Path) -> None:
    path = tmp_path / "curve.json"
    path.write_text(write_json(curve_document(issue)), encoding="utf-8")
    assert read_curve(path) == issue.curve


def test_other_mixes_or_few_batches_are_no_calibration() -> None:
    plan = runway_plan()
    few = replace(plan.records, breaks=tuple(item for item in plan.records.breaks if item.batch in ("R1", "R2", "R3")))
    for wrong in (relying(hold_out="mix"), relying(replace(plan, records=few))):
        issue = issue_records_curve(wrong, recommendation())
        assert not issue.curve.is_calibrated
        assert not is_usable(issue)
        assert issue.curve.promise.safe_factor is None
        assert all(row.safe_mpa is None for row in issue.table)
        assert all(row.safe_h is None for row in issue.hours)
        assert "NOT CALIBRATED" in render_curve_sheet(issue)
        assert issue.curve.pour_model is None
        assert issue.cautions[0].code == "not-calibrated"
    assert "fewer than 4 earlier batches" in issue.cautions[0].text


def test_plan_that_casts_a_trial_batch_is_told_what_to_give() -> None:
    with pytest.raises(InputError, match=r"no breaks of it are given. Give --trial; or write 0"):
        issue_records_curve(runway_plan(), recommendation())
    bare = relying()
    bare = replace(bare, records=replace(bare.records, breaks=()))
    with pytest.raises(InputError, match="no standard-cured breaks"):
        issue_records_curve(bare, recommendation())


def test_ages_that_few_batches_share_are_left_out() -> None:
    count = np.array([[2.0, 2, 0], [2, 2, 0], [2, 2, 0], [2, 2, 0], [2, 2, 3]])
    maturity = np.tile([4.0, 24.0, 672.0], (5, 1))
    batches = PriorBatches(
        mean_mpa=maturity + 10, n_specimens=count, maturity_h=maturity, cv=np.array([0.03, 0.03, 0.03])
    )
    assert common_ages(batches).maturity_h[0].tolist() == [4.0, 24.0]


def test_error_of_the_mean_curve_by_hand() -> None:
    """Var of log strength at a knot: scatter and departures there, plus (scale^2 + slope^2 rate^2) / batches."""
    knots, log_mpa = np.log([5.0, 8.0, 24.0, 672.0]), np.log([10.0, 18.0, 30.0, 50.0])
    count = np.array([4.0, 4.0, 4.0, 4.0])
    prior = GrowthPrior(
        curve=mean_curve(knots, log_mpa, count),
        scale_sd=0.07,
        rate_sd=0.11,
        departure_sd=0.02,
        knot_cv=np.full(4, 0.04),
        knot_noise=np.array([1e-4, 2e-4, 3e-4, 4e-4]),
        n_batches=5,
        n_freedom=5.0,
    )
    fitted = curve_of_prior(prior)
    slope = PchipInterpolator(knots, log_mpa).derivative()(knots)
    log_sd = np.sqrt([1e-4, 2e-4, 3e-4, 4e-4] + (0.07**2 + slope**2 * 0.11**2) / 5)
    assert fitted.parameters == pytest.approx((10.0, 18.0, 30.0, 50.0))
    assert fitted.parameter_se == pytest.approx(np.exp(log_mpa) * log_sd, rel=1e-9)
    assert log_sd[0] > 1.3 * np.sqrt(1e-4 + 0.07**2 / 5)  # at the first knot the rate decides


def test_error_of_the_mean_curve_against_drawn_programmes() -> None:
    """1,000 programmes of five batches, seed 11: their means scatter as stated, four ages within 9 %.

    Four standard errors each: a false alarm in 1 of 4,000 runs.
    """
    rng = np.random.default_rng(11)
    knots, log_mpa = np.log([5.0, 8.0, 24.0, 672.0]), np.log([10.0, 18.0, 30.0, 50.0])
    truth = PchipInterpolator(knots, log_mpa)
    # the law of the model: levels .07 and rates .11 apart (to first order), departures of .02 at every age
    level, rate = rng.normal(0, 0.07, (1000, 5, 1)), rng.normal(0, 0.11, (1000, 5, 1))
    logs = log_mpa + level + rate * truth.derivative()(knots) + rng.normal(0, 0.02, (1000, 5, 4))
    drawn = np.exp(logs.mean(axis=1)).std(axis=0, ddof=1)
    prior = GrowthPrior(
        curve=mean_curve(knots, log_mpa, np.full(4, 5.0)),
        scale_sd=0.07,
        rate_sd=0.11,
        departure_sd=0.02,
        knot_cv=np.full(4, 0.04),
        knot_noise=np.full(4, 0.02**2 / 5),
        n_batches=5,
        n_freedom=5.0,
    )
    assert curve_of_prior(prior).parameter_se == pytest.approx(drawn, rel=0.09)
