"""Trial files with one slip each: refused in one message, or used with a caution that names it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest

from planner.after_casting.issuing import issue_curve
from planner.issued_curve.rules.acceptance import Verdict
from planner.read import load_later
from planner.report.text.curve_status_words import is_usable, status_words
from planner.report.text.curve_words import assurance_words
from planner.terms.problems import InputError
from scenarios.draws import BreakRow
from tests.issued_curve.trial_files import PLAN, issued, recommendation, runway_plan, trial_rows, write_trial


def weak_on_site(share: float) -> list[BreakRow]:
    return [
        row._replace(strength_mpa=share * row.strength_mpa) if row.curing == "site" else row for row in trial_rows("T1")
    ]


def test_ages_in_days_under_a_heading_of_hours_are_refused(tmp_path: Path) -> None:
    rows = [row._replace(age_h=row.age_h / 24) for row in trial_rows("T1")]
    given = load_later(PLAN, write_trial(tmp_path, "T1", rows=rows)[0])
    with pytest.raises(InputError) as caught:
        issue_curve(runway_plan(), given, recommendation())
    texts = [str(problem) for problem in caught.value.problems]
    # final set 1.5 h: 4, 6, 8 and 24 h read as 0.17, 0.25, 0.33 and 1 h; 3 d and 28 d read as 3 and 28 h
    assert len(texts) == 4
    assert "before the final set of the plan (1.5 h)" in texts[0]
    assert "(4 h if it was meant in days)" in texts[0]
    assert "trial.csv, row 2" in texts[0]
    assert "The same in" in texts[0]


@pytest.mark.parametrize(("share", "verdict"), [(0.6, Verdict.REPEAT), (0.88, Verdict.BREAK_MORE)])
def test_a_calibration_that_is_not_accepted_gives_no_safe_reading(
    tmp_path: Path, share: float, verdict: Verdict
) -> None:
    given = load_later(PLAN, *write_trial(tmp_path, "T1", rows=weak_on_site(share)))
    issue = issue_curve(runway_plan(), given, recommendation())
    assert issue.acceptance is not None
    assert issue.acceptance.verdict is verdict
    assert issue.curve.promise.safe_factor is not None
    assert not issue.curve.is_calibrated
    assert {row.safe_mpa for row in issue.table} == {None}
    assert {row.safe_h for row in issue.hours} == {None}
    assert {reading.safe_mpa for reading in issue.readings} == {None}
    assert "NOT" in status_words(issue) or "REFUSED" in status_words(issue)
    assert "the calibration is not accepted" in assurance_words(issue.curve)
    assert not is_usable(issue)


def test_an_accepted_one_gives_them(tmp_path: Path) -> None:
    issue = issued(tmp_path, "T1")
    assert issue.curve.is_calibrated
    assert all(row.safe_mpa is not None for row in issue.table)
    assert is_usable(issue)
    assert status_words(issue) == "The calibration is accepted."


def test_a_stranger_is_named_on_the_front_of_the_sheet(tmp_path: Path) -> None:
    rows = [row._replace(strength_mpa=0.5 * row.strength_mpa) for row in trial_rows("T1")]
    given = load_later(PLAN, *write_trial(tmp_path, "T1", rows=rows))
    issue = issue_curve(runway_plan(), given, recommendation())
    assert issue.is_stranger
    assert "DOES NOT GROW LIKE THE EARLIER BATCHES" in status_words(issue)
    assert not is_usable(issue)


def test_ages_beyond_those_of_the_records_say_why_likeness_is_not_told(tmp_path: Path) -> None:
    other = {4.0: 5.0, 8.0: 9.0, 24.0: 30.0, 72.0: 80.0, 672.0: 700.0}
    rows = [row._replace(age_h=other[row.age_h]) if row.curing == "standard" else row for row in trial_rows("T1")]
    given = load_later(PLAN, *write_trial(tmp_path, "T1", rows=rows))
    cautions = {item.code: item.text for item in issue_curve(runway_plan(), given, recommendation()).cautions}
    assert "at ages at which fewer than three of them were broken" in cautions["likeness-not-told"]


def test_a_casting_time_is_asked_for_where_the_schedule_is_another(tmp_path: Path) -> None:
    plan = runway_plan()
    given = load_later(PLAN, *write_trial(tmp_path, "T1"))

    def said(told_plan) -> str:
        cautions = {item.code: item.text for item in issue_curve(told_plan, given, recommendation()).cautions}
        return cautions["ages-not-planned"]

    at = dt.datetime(2027, 3, 1, 22, 0)
    dated = replace(plan, settings=replace(plan.settings, castings=((at, at),)))
    assert "Where 'recommend' was given --cast, give 'curve' the same." in said(plan)
    assert "--cast" not in said(dated)


def with_column(breaks: Path, name: str, value) -> None:
    lines = breaks.read_text(encoding="utf-8").splitlines()
    written = [f"{lines[0]},{name}", *(f"{line},{value(line)}" for line in lines[1:])]
    breaks.write_text("\n".join(written), encoding="utf-8")


@pytest.mark.parametrize(("maturity", "is_said"), [("7.5", True), ("", False)])
def test_a_maturity_unlike_the_record_is_used_and_said(tmp_path: Path, maturity: str, is_said: bool) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1")
    with_column(breaks, "maturity", lambda line: maturity if ",site,6," in line and "cool" in line else "")
    issue = issue_curve(runway_plan(), load_later(PLAN, breaks, temperatures), recommendation())
    cautions = {item.code: item.text for item in issue.cautions}
    assert ("maturity-differs" in cautions) == is_said
    if is_said:
        assert "T1 site at 6 h 7.5 (record " in cautions["maturity-differs"]


@pytest.mark.parametrize(("share", "is_said"), [(1.04, False), (0.96, False), (1.06, True), (0.94, True)])
def test_five_per_cent_of_maturity_are_let_off(tmp_path: Path, share: float, is_said: bool) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1")
    sound = issue_curve(runway_plan(), load_later(PLAN, breaks, temperatures), recommendation())
    (own,) = [item.maturity_h for item in sound.groups if (item.age_h, item.placement) == (6.0, "cool night")]
    with_column(breaks, "maturity", lambda line: own * share if ",site,6," in line and "cool" in line else "")
    issue = issue_curve(runway_plan(), load_later(PLAN, breaks, temperatures), recommendation())
    assert ("maturity-differs" in {item.code for item in issue.cautions}) == is_said


def test_temperatures_of_another_batch_are_named(tmp_path: Path) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1")
    temperatures.write_text(temperatures.read_text(encoding="utf-8").replace("T1,", "trial 1,"), encoding="utf-8")
    cautions = {item.code: item.text for item in load_later(PLAN, breaks, temperatures).records.cautions}
    assert "trial 1 standard" in cautions["temperature-unused"]
    assert "temperature-unused" not in {
        item.code for item in load_later(PLAN, *write_trial(tmp_path, "T1")).records.cautions
    }


def test_notes_of_the_workbook_are_no_columns_to_warn_of(tmp_path: Path) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1")
    for name in ("fracture", "remarks", "end_preparation", "mass_g"):
        with_column(breaks, name, lambda _: "2")
    codes = {item.code for item in load_later(PLAN, breaks, temperatures).records.cautions}
    assert "columns-not-read" not in codes
    with_column(breaks, "slump", lambda _: "2")
    codes = {item.code: item.text for item in load_later(PLAN, breaks, temperatures).records.cautions}
    assert '"slump"' in codes["columns-not-read"]
    assert "fracture" not in codes["columns-not-read"]


def test_a_rejection_among_the_remarks_is_still_refused(tmp_path: Path) -> None:
    breaks, temperatures = write_trial(tmp_path, "T1")
    with_column(breaks, "remarks", lambda line: "rejected" if line.startswith("T1") and ",4," in line else "")
    with pytest.raises(InputError, match='"rejected" under "remarks" looks like a break that must not be used'):
        load_later(PLAN, breaks, temperatures)
