"""Every figure of a clause in its own place: terms of which no two are alike, read in the paragraphs and tables."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.report.text.clause.clause_text import ages_table, clause_sections, rationale_table
from tests.report.invented_answers import invented_clause
from tests.report.text.test_clause import followed, paragraphs

FORMS = {
    "hyperbolic": "S = Su (t - t0) / (t - t0 + h)",
    "exponential": "S = Su exp(-(tau / t)^a), with Su, tau and a fitted",
    "logarithmic": "S = a + b ln t",
    "piecewise linear": "straight lines in t through",
    "piecewise linear in log age": "straight lines in ln t through",
}


def test_no_figure_stands_in_the_place_of_another() -> None:
    """Terms of which no two figures are alike."""
    clause = invented_clause(is_kept=False)
    assert clause.error is not None
    error = replace(
        clause.error, own_batch_rms=0.041, later_rms=0.127, later_within_tolerance=0.62, is_later_kept=False,
        later_within_tolerance_lower_95=0.44, safe_reading_factor=1.232, n_batches=13, n_breaks=208,
    )  # fmt: skip
    checks = replace(
        clause.checks, companions_per_check=4, check_sd=0.083, chance_of_alarm=((20, 0.04), (60, 0.11)),
    )  # fmt: skip
    apart = replace(
        clause, error=error, checks=checks, n_trial_batches=2, n_instrumented=5, n_spares=6, tolerance=0.12,
        assurance=0.85, strength_mpa=(16.0, 31.0, 45.0), temperature_c=(14.0, 27.0),
        recorded_temperature_c=(11.5, 33.5),
    )  # fmt: skip
    found = paragraphs(apart)
    wanted = {
        "Trial batches": "at least 2 trial batches of",
        "Specimens": "5 further specimens that carry temperature sensors and are not broken, and 6 spares.",
        "Curing": "less than 30 min before they are broken, beside the 5 instrumented ones.",
        "Strength level": "had 16 to 45 MPa (mean 31 MPa) at the targets",
        "Target": "A reading within 12 % of the strength of the same concrete, in 85 % of pours.",
        "Sensors of the trial batch": "at intervals of at most 30 min in the first 48 h and 60 min afterwards",
        "Sensors of a pour": "at least every 30 min in the first 48 h and every 60 min afterwards",
        "Curve": "at the maturities of its first and last break (standard-cured 6 h and 28 d)",
        "Later pours are not read within the tolerance": "reads only 62 % of later pours within 12 %",
        "Safe reading": "only where the curve reads at least 1.24 times that strength",
        "Temperature range": "lies within 14 to 27 C.",
        "Companions of a pour": "shall cast 4 companions from every pour",
        "New calibration": "shall calibrate anew, with 2 trial batches, when:",
        "Payment": "shall include in the price 2 trial batches with all specimens",
    }
    for subject, text in wanted.items():
        assert text in found[subject].text, subject
    assert "at 28 d, to be in before the first pour" in found["Trial batches"].text
    assert "(12.7 % RMS; 4.1 % on the trial batch's own concrete)" in found[
        "Later pours are not read within the tolerance"
    ].text  # fmt: skip
    assert found["Ages"].rests_on.startswith(
        "held out on 13 batches (208 breaks): own batch 4.1 % RMS, later pour 12.7 % RMS"
    )
    assert "standard deviation of a check 8.3 %" in found["Tonight's rule"].rests_on
    assert found["Lasting rule"].rests_on.endswith("withdrawn within 20 checks 4 %, 60 checks 11 %")
    assert "(which reach from 11.5 to 33.5 C)" in found["Temperature range"].rests_on


@pytest.mark.parametrize("curve", FORMS)
@pytest.mark.parametrize(("weighting", "counting"), [("relative", "relative error"), ("absolute", "error in strength")])
def test_the_curve_has_its_own_form_and_weighting(curve: Any, weighting: Any, counting: str) -> None:
    clause = invented_clause()
    (first, *_) = clause.curves
    text = paragraphs(replace(clause, curves=(replace(first, curve=curve, weighting=weighting),)))["Curve"].text
    assert f"the {curve} curve, {FORMS[curve]}" in text
    assert f"every age counting by its {counting} " in text


def test_the_rationale_names_the_paragraph_before_what_it_rests_on() -> None:
    sections = clause_sections(invented_clause())
    table = rationale_table(sections)
    assert [column.heading for column in table.columns] == ["no.", "paragraph", "rests on"]
    rested = [part for section in sections for part in section.paragraphs if part.rests_on]
    assert list(table.rows) == [(part.number, part.subject, part.rests_on) for part in rested]
    ages = ages_table(invented_clause())
    place = [column.heading for column in ages.columns].index("specimens")
    assert [row[place] for row in ages.rows] == [str(age.n_specimens) for age in invented_clause().ages]


def test_a_standard_is_kept_or_asks_for_more() -> None:
    subject = "Where ASTM C1074 is in force"
    assert (
        "shall keep the counts of ASTM C1074 (at least 15 specimens at 5 ages" in paragraphs(followed())[subject].text
    )
    assert "which is more than this clause asks" in paragraphs(invented_clause())[subject].text
