"""Plans whose curves learn from the other batches, down to one age: the same for any workers, issued, read back."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from planner.after_casting.issuing import issue_curve
from planner.after_casting.pour_reading import read_pour
from planner.after_casting.site_checking import check_pours
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.pour_reader import PourReader
from planner.mixed_model import CellMeans, estimate_growth_prior
from planner.pipeline import minimum, price, recommend, score
from planner.population import basis_of
from planner.questions.recommending import Advice
from planner.read import load_later, load_plan
from planner.read.curve_file import read_curve
from planner.report.accounts.after_casting.curve_account import curve_account
from planner.report.documents.result_files import result_files
from planner.report.documents.values.curve_document import curve_document
from planner.report.documents.values.price_document import price_document
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.text.curve_words import LEARNT_FIT
from planner.resampling.priors.from_records import learnt_from_records
from planner.resampling.priors.learnt import Teaching, learning_batches
from planner.resampling.priors.loops import NOMINAL
from planner.resampling.priors.one_fit import fit_learnt
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName, Plan
from planner.terms.problems import InputError
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.validation import restricted
from tests.issued_curve.trial_files import PLAN, trial_rows, write_checks, write_trial
from tests.without_studies import without_studies

BATCHES = {f"R{number}" for number in range(1, 7)}  # with one kept out of a choice and one judged, four still teach
CURVES = '[curves]\nfamilies = ["logarithmic", "population prior", "shape prior"]\n'
SMALL = {
    r'^ages = \["4 h".*$': 'ages = ["4 h", "8 h", "1 d", "3 d"]',
    r"^fewest_ages.*$": "fewest_ages = 1",
    r"^most_ages.*$": "most_ages = 2",
    r"^specimens_per_age = \[2, 4\]$": "specimens_per_age = [2, 3]",
    r"^specimens = 24$": "specimens = 6",
    r"^equivalent_age_q_k.*$": "equivalent_age_q_k = [4000, 5000]",
    r"^datum_c.*\n": "",
    r"^schedules = .*$": 'schedules = ["1 d x2"]',
}


def plan_text(*, curves: str = CURVES) -> str:
    text = PLAN.read_text(encoding="utf-8")
    for pattern, line in SMALL.items():
        text, n_found = re.subn(pattern, line, text, flags=re.MULTILINE)
        assert n_found == 1, pattern
    return text + "\n" + curves


def plan_in(folder: Path, *, curves: str = CURVES) -> Plan:
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("breaks.csv", "temperatures.csv"):
        header, *rows = (PLAN.parent / name).read_text(encoding="utf-8").splitlines(keepends=True)
        kept = [row for row in rows if row.split(",", 1)[0] in BATCHES]
        (folder / name).write_text("".join((header, *kept)), encoding="utf-8")
    (folder / "plan.toml").write_text(plan_text(curves=curves), encoding="utf-8")
    return load_plan(folder / "plan.toml")


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan_in(tmp_path_factory.mktemp("priors"))


@pytest.fixture(scope="module")
def advice(plan: Plan) -> Recommendation:
    return recommend(plan, n_draws=20, workers=1)


@pytest.fixture(scope="module")
def priced(plan: Plan) -> PriceAnswer:
    with without_studies():
        return price(plan, n_draws=5, workers=1)


def without_seconds(advice: Recommendation) -> str:
    document = recommendation_document(advice)
    document["search"].pop("seconds")
    return json.dumps(document, sort_keys=True)


def test_every_figure_is_the_same_to_the_last_bit_for_any_workers(plan: Plan, advice: Recommendation) -> None:
    three = recommend(plan, n_draws=20, workers=3)
    assert three.early_breaks is not None
    assert three.constants is not None
    assert without_seconds(three) == without_seconds(advice)


def test_prices_are_the_same_to_the_last_bit_for_any_workers(
    plan: Plan, priced: PriceAnswer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(restricted, "SETS_AT_ONCE", 3)  # else so small a plan has one part, and one worker works
    with without_studies():
        documents = [price_document(one) for one in (priced, price(plan, n_draws=5, workers=2))]
    for document in documents:
        document["recommendation"]["search"].pop("seconds")
    one, two = (json.dumps(document, sort_keys=True) for document in documents)
    assert one == two


def test_one_age_is_scored_and_what_the_curve_rests_on_is_said(advice: Recommendation) -> None:
    assert advice.recommended.curve in PRIOR_CURVE_NAMES
    assert advice.recommended.schedule.n_ages == 1
    assert any("Curves with a prior rest on 5 other batches" in note for note in advice.evidence.notes)
    (compared,) = advice.compared
    assert compared.schedule == Schedule((24.0,), (2,))
    assert compared.curve in PRIOR_CURVE_NAMES


def test_every_question_answers(plan: Plan, advice: Recommendation, priced: PriceAnswer, tmp_path: Path) -> None:
    with without_studies():
        rated, _ = score(plan, Schedule((8.0,), (2,)), n_draws=5, workers=1)
        assert rated.curve in PRIOR_CURVE_NAMES
        assert minimum(plan, n_draws=5, workers=1).together.least is not None
    assert priced.recommendation.recommended.schedule == advice.recommended.schedule
    files = result_files(
        advice, plan.settings, castings=(), has_figures=False, has_all_choices=True, folder=tmp_path
    )  # fmt: skip
    assert {"workbook.xlsx", "report.html"} <= set(files)


def issue_of(plan: Plan, advice: Recommendation, folder: Path, *, curve: CurveName) -> Issue:
    """The curve of a trial batch that was broken at 4 h alone, with its companions."""
    rows = [row for row in trial_rows("T1") if row.curing == "site" or row.age_h == 4.0]
    breaks, temperatures = write_trial(folder, "T1", rows=rows)
    trial = load_later(PLAN, breaks, temperatures)
    chosen = replace(advice.recommended, curve=curve, schedule=Schedule((4.0,), (3,)))
    return issue_curve(plan, trial, replace(advice, recommended=chosen))


def test_issued_from_one_age_by_hand(plan: Plan, advice: Recommendation, tmp_path: Path) -> None:
    """Mean curve of all six batches by scipy, alpha and beta by the dense normal law."""
    issue = issue_of(plan, advice, tmp_path, curve="population prior")
    cells = basis_of(plan).cells
    setting = cells.settings.index(advice.recommended.maturity)
    batches = learning_batches(Teaching.of(cells), setting, frozenset())
    assert batches is not None
    prior = estimate_growth_prior(batches)
    knots, values = prior.curve.log_maturity, prior.curve.log_mpa
    mean = PchipInterpolator(knots, values)
    (fit,) = issue.fits
    at, left = np.log(fit.means.maturity_h[0]), prior.departure_variance(fit.means.maturity_h)[0]
    row = np.array([1.0, mean.derivative()(max(at, knots[0]))])
    own = np.diag([prior.scale_sd**2, prior.rate_sd**2]) * 7.0 / 6.0
    total = row @ own @ row + fit.means.cv[0] ** 2 / NOMINAL + left
    level = mean(max(at, knots[0])) + min(at - knots[0], 0.0) * row[1]
    alpha, beta = own @ row / total * (np.log(fit.means.mean_mpa[0]) - level)
    for maturity in (7.0, 24.0, 100.0):
        log_mpa = mean(np.log(maturity)) + alpha + beta * mean.derivative()(np.log(maturity))
        assert issue.curve.read(maturity) == pytest.approx(float(np.exp(log_mpa)), rel=1e-6)
    said = str(curve_account(issue))
    assert LEARNT_FIT in said
    assert "goes through every mean" not in said


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_an_issued_curve_is_read_back(plan: Plan, advice: Recommendation, tmp_path: Path, curve: CurveName) -> None:
    issue = issue_of(plan, advice, tmp_path, curve=curve)
    (tmp_path / "curve.json").write_text(json.dumps(curve_document(issue)), encoding="utf-8")
    again = read_curve(tmp_path / "curve.json")
    maturities = np.array([5.0, 12.0, 30.0, 200.0])
    assert again.strength(maturities) == pytest.approx(issue.curve.strength(maturities), rel=1e-9)
    assert again.span_h == pytest.approx(advice.valid_for.maturity_span_h)


def test_a_prior_that_cannot_be_learnt_is_said_or_refused(tmp_path: Path) -> None:
    few = '[curves]\nfamilies = ["logarithmic", "shape prior"]\n'
    plan = plan_in(tmp_path / "few", curves=few)
    kept = {"R1", "R2", "R3"}
    records = replace(
        plan.records,
        breaks=tuple(item for item in plan.records.breaks if item.batch in kept),
        curing_records=tuple(item for item in plan.records.curing_records if item.batch in kept),
    )
    choices = replace(plan.settings.choices, fewest_ages=2)
    plan = replace(plan, records=records, settings=replace(plan.settings, choices=choices, pours=None))
    with without_studies():
        notes = recommend(plan, n_draws=5, workers=1).evidence.notes
    assert any("shape prior is not among the choices: it needs 4 batches" in note for note in notes)
    alone = replace(plan, settings=replace(plan.settings, curves=("shape prior",)))
    with pytest.raises(InputError, match="No curve is left to choose among"):
        recommend(alone, n_draws=5, workers=1)


def test_ages_too_few_for_every_curve_are_refused_with_what_to_do(tmp_path: Path) -> None:
    plan_in(tmp_path)
    text = plan_text(curves='[curves]\nfamilies = ["logarithmic"]\n').replace("most_ages = 2", "most_ages = 1")
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r'fitted to 1 age: they need 2.*add "population prior" or "shape prior"'):
        load_plan(tmp_path / "plan.toml")
    text = plan_text().replace("most_ages = 2", "most_ages = 1")
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    assert load_plan(tmp_path / "plan.toml").settings.choices.most_ages == 1


def standard_row(age_h: float, strength_mpa: float, maturity_h: float, **given: object) -> dict[str, object]:
    row = {
        "batch": "P1", "curing": "standard", "age_h": age_h, "specimen": f"{age_h}-{strength_mpa}",
        "strength_mpa": strength_mpa, "maturity": maturity_h,
    }  # fmt: skip
    return row | given


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_pours_and_site_checks_are_read_from_the_file_of_a_curve_with_a_prior(
    plan: Plan, advice: Recommendation, tmp_path: Path, curve: CurveName
) -> None:
    """Site checks stand beside the curve, a pour is read by the earlier batches as with any other curve."""
    issue = issue_of(plan, advice, tmp_path, curve=curve)
    (tmp_path / "curve.json").write_text(json.dumps(curve_document(issue)), encoding="utf-8")
    again = read_curve(tmp_path / "curve.json")
    model = again.pour_model
    assert model is not None
    mean_mpa = round(0.97 * PourReader.of(model).expected_mpa(5.1), 2)  # a little weak, no stranger
    early = [standard_row(4.0, mean_mpa + side, 5.1) for side in (-0.3, 0.3)]
    pour = read_pour(plan, again, load_later(PLAN, write_checks(tmp_path / "pour.csv", early)))
    cells = CellMeans(maturity_h=np.array([5.1]), mean_mpa=np.array([mean_mpa]), n_specimens=np.array([2.0]))
    for row in pour.rows:
        assert row.maturity_h is not None
        wanted = PourReader.of(model).read(cells, row.maturity_h)
        assert row.strength_mpa == pytest.approx(float(wanted.strength_mpa[0]), rel=1e-9)
        if again.is_calibrated:
            assert row.safe_mpa == pytest.approx(float(wanted.safe_mpa(again.promise.assurance)[0]), rel=1e-9)
        else:
            assert row.safe_mpa is None
        assert row.curve_mpa == pytest.approx(issue.curve.read(row.maturity_h), rel=1e-9)
    companions = [standard_row(24.0, 25.0 + side, 24.0, curing="site", required_mpa=12.0) for side in (-0.5, 0.5)]
    answer = check_pours(plan, again, load_later(PLAN, write_checks(tmp_path / "checks.csv", companions)))
    (point,) = answer.verdict.points
    assert point.check.companions.read_mpa == pytest.approx(issue.curve.read(24.0), rel=1e-9)
    assert point.check.companions.broken_mpa == pytest.approx(25.0)


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_a_trial_break_below_the_maturities_of_the_records_is_refused_with_its_figure(
    plan: Plan, advice: Recommendation, tmp_path: Path, curve: CurveName
) -> None:
    chosen = replace(advice, recommended=replace(advice.recommended, curve=curve, schedule=Schedule((4.0,), (3,))))
    cold = [standard_row(4.0, 4.0, 3.0, batch="T1"), standard_row(24.0, 25.0, 24.0, batch="T1")]
    with pytest.raises(InputError, match=rf"maturity of 3.0 h .* at 4 h; .* the {curve} curve has learnt.*void this"):
        issue_curve(plan, load_later(PLAN, write_checks(tmp_path / "cold.csv", cold)), chosen)


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_a_notebook_fits_a_curve_with_a_prior_as_it_would_be_issued(
    plan: Plan, advice: Recommendation, tmp_path: Path, curve: CurveName
) -> None:
    chosen = replace(advice, recommended=replace(advice.recommended, curve=curve, schedule=Schedule((6.0,), (2,))))
    rows = [standard_row(6.0, strength, 6.0, batch="T1") for strength in (12.85, 14.15)]
    issue = issue_curve(plan, load_later(PLAN, write_checks(tmp_path / "six.csv", rows)), chosen)
    given = Advice(chosen, plan.settings, plan=plan).curve([6.0, 6.0], [12.85, 14.15])
    maturities = np.array([5.0, 24.0, 300.0])
    learnt = learnt_from_records(plan, advice.recommended.maturity)
    assert learnt is not None
    assert given.span_h == learnt.span_h
    # scatter is that of the records there and of two specimens here, much alike: the population prior weighs by it
    assert given.predict(maturities) == pytest.approx(issue.curve.strength(maturities), rel=0.005)
    (fit,) = issue.fits
    same, _ = fit_learnt(learnt.numbers[curve], np.array([6.0]), np.array([13.5]), given.fit.means.cv)
    assert given.predict(maturities) == pytest.approx(same.predict(maturities), rel=1e-12)
    assert fit.means.maturity_h == pytest.approx([6.0])
    with pytest.raises(ValueError, match=rf"Maturities of 2 h lie outside those that the {curve} has learnt from"):
        Advice(chosen, plan.settings, plan=plan).curve([2.0, 2.0], [3.0, 4.0])
    with pytest.raises(ValueError, match=f"The {curve} is fitted with what it has learnt.*planner.issue_curve"):
        Advice(chosen, plan.settings).curve([6.0, 6.0], [12.85, 14.15])
