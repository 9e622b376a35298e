"""The sheet and the accounts: every figure stands on them, rounded to the safe side, and foreign text is harmless."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest

from planner.after_casting.site_checking import check_pours, rescaled_issue
from planner.issued_curve.calibration.early_correction import PlannedEarly, early_correction
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.rules.acceptance import Verdict
from planner.questions.curve_answers import CurveAnswer
from planner.report.accounts.after_casting.curve_account import curve_account, hours_words, safe_words
from planner.report.accounts.after_casting.site_checks_account import site_checks_account
from planner.report.documents.pages.after_casting_pages import render_site_checks
from planner.report.documents.pages.curve_sheet import render_curve_sheet
from planner.report.documents.values.curve_document import curve_document
from planner.report.documents.values.site_checks_document import site_checks_document
from planner.report.figures.after_casting.site_check_chart import checks_plot
from planner.report.figures.drawing.plot import Marks
from planner.report.text.blocks import Table
from planner.report.text.curve_status_words import (
    GROUND_WORDS,
    LASTING_WORDS,
    REFUSAL_WORDS,
    VERDICT_WORDS,
    break_more_words,
    status_words,
)
from planner.report.text.curve_words import formula_words, reckoning_words
from planner.report.text.early_correction_words import BY_THE_LABORATORY, NOT_BY_THIS_CURVE, correction_table
from planner.report.text.plain_blocks import plain_sections
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.shown_as import ShownAs
from tests.after_casting.test_check_pours import checks, curve, rows
from tests.issued_curve.invented_curves import hyperbola, issued_curve, pour_model
from tests.issued_curve.trial_files import issued, runway_plan
from tests.report.invented_result import HOSTILE_NAMES


@pytest.fixture(scope="module")
def issue(tmp_path_factory: pytest.TempPathFactory) -> Issue:
    return issued(tmp_path_factory.mktemp("issued"), "T1")


def text_of(page: str) -> str:
    """What a reader reads, without the style and the drawings."""
    bare = re.sub(r"<(style|svg).*?</\1>", " ", page, flags=re.S)
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", bare))).replace("\u00a0", " ")


def leaf_of(page: str) -> str:
    return text_of(page[: page.index('class="laboratory"')])


def test_every_line_of_the_table_stands_on_the_leaf(issue: Issue) -> None:
    leaf = leaf_of(render_curve_sheet(issue))
    for row in issue.table:
        maturity = f"{row.maturity_h:.1f}" if row.maturity_h < 100 else f"{row.maturity_h:.0f}"
        assert row.safe_mpa is not None
        assert f"{maturity} {row.strength_mpa:.1f} {safe_words(row.safe_mpa)}" in leaf
    for hours in issue.hours:
        if hours.safe_h is not None:
            assert hours_words(hours.safe_h, is_waited_for=True) in leaf


def test_safe_figures_are_rounded_to_the_safe_side() -> None:
    assert safe_words(17.86) == "17.8"
    assert safe_words(17.8) == "17.8"
    assert safe_words(None) == "-"
    assert hours_words(45.01, is_waited_for=True) == "45.1"
    assert hours_words(45.0, is_waited_for=True) == "45.0"
    assert hours_words(45.01) == "45.0"
    assert hours_words(None) == "-"


def test_the_leaf_alone_tells_a_crew_what_it_needs(issue: Issue) -> None:
    leaf = leaf_of(render_curve_sheet(issue))
    for needed in (
        "Curve 1",
        "rapid panel mix",
        "The calibration is accepted.",
        "the engineer releases",
        "about 1 pour in 10 may be weaker",
        "Stop: no reading, or the pour waits",
        "Two sensors or more",
        "t = sum of exp(-5000 (1 / (T + 273.15) - 1 / 293.15)) dt",
        "S = ",
        "cylinder 100x200 mm",
        "No objection is no permission",
        "withdrawn at the second low check running",
        "Issued by, date",
        "Approved by (responsible engineer), date",
        "Valid until",
        "sha256:",
        *issue.standing_cautions,
        *issue.recalibrate_when,
    ):
        assert needed in leaf, needed
    assert issue.check_sd is not None
    assert f"{100 * 1.6448536 * issue.check_sd:.1f} % below the reading" in leaf


def test_a_refused_calibration_says_so_first(issue: Issue) -> None:
    assert issue.acceptance is not None
    for verdict in (Verdict.REPEAT, Verdict.BREAK_MORE, Verdict.NOT_JUDGED):
        refused = replace(issue, acceptance=replace(issue.acceptance, verdict=verdict))
        page = render_curve_sheet(refused)
        assert VERDICT_WORDS[verdict] in leaf_of(page)
        assert 'class="status bad"' in page
    assert 'class="status bad"' not in render_curve_sheet(issue)
    unknown = replace(issue, acceptance=None)
    assert "NOT JUDGED" in leaf_of(render_curve_sheet(unknown))
    bare = replace(issue, curve=replace(issue.curve, is_calibrated=False))
    assert "NOT CALIBRATED" in status_words(bare)


def test_superseded_curve_is_named(issue: Issue) -> None:
    later = replace(issue, curve=replace(issue.curve, number=3, supersedes=2))
    assert "Supersedes curve 2: destroy it" in leaf_of(render_curve_sheet(later))


def test_foreign_text_stays_text(issue: Issue) -> None:
    for name in HOSTILE_NAMES:
        page = render_curve_sheet(replace(issue, curve=replace(issue.curve, title=name, mix=name)))
        assert "<script" not in page
        assert "\x1b" not in page
        assert "\u202e" not in page


def test_account_tells_companions_and_rules(issue: Issue) -> None:
    text = " ".join(plain_sections(curve_account(issue)).split())
    assert issue.acceptance is not None
    for check in issue.acceptance.checks:
        assert f"{100 * check.companions.difference:+.1f} %" in text
        assert f"{check.z:+.2f}" in text
    assert issue.alarms is not None
    for chance in (*issue.alarms.sound, *issue.alarms.dropped):
        assert f"{100 * chance:.0f} %" in text
    assert issue.customary is not None
    assert f"fails {100 * issue.customary.false_alarm:.0f} % of sound checks" in text
    for caution in issue.cautions:
        assert caution.code in text


def test_formulas_give_the_strength_that_is_read() -> None:
    # each formula is evaluated as it stands on the sheet
    import math

    curves = {
        "hyperbolic": (50.0, 20.0, 4.0),
        "exponential": (60.0, 12.0, 0.8),
        "logarithmic": (-5.0, 9.0),
    }
    for name, parameters in curves.items():
        curve = issued_curve(curve=name, batches=(replace(hyperbola(), parameters=parameters),))
        written = formula_words(curve)[0].removeprefix("T1: S = ")
        python = re.sub(r"(\d|\)) (\(|exp|ln)", r"\1 * \2", written).replace("^", "**").replace("ln t", "math.log(t)")
        value = eval(python, {"t": 24.0, "exp": math.exp, "math": math})
        assert value == pytest.approx(curve.read(24.0), rel=1e-4)
    negative = issued_curve(batches=(replace(hyperbola(), parameters=(50.0, 20.0, -1.5)),))
    assert "50 (t + 1.5) / ((t + 1.5) + 20)" in formula_words(negative)[0]
    two = formula_words(issued_curve(batches=(hyperbola(), hyperbola(batch="T2"))))
    assert two[-1].startswith("The strength read is the mean")
    assert ", times 0.9" in formula_words(issued_curve().scaled(0.9, number=2, span_h=(6.0, 30.0)))[0]


def test_reckoning_of_every_maturity_function() -> None:
    datum = reckoning_words(MaturitySetting("temperature-time", -2.0, 20.0))
    assert "M = sum of (T - (-2)) dt" in datum[0]
    assert "t = M / 22" in datum[-1]
    assert "no temperature" in reckoning_words(MaturitySetting("age"))[0]
    assert "age zero: water added." in reckoning_words(MaturitySetting("age"), age_zero="water added")[1]
    assert "ask the laboratory which" in datum[1]


def test_correction_table_stands_on_the_leaf(issue: Issue) -> None:
    curve = issued_curve(target_ages_h=(6.0, 24.0), pour_model=pour_model())
    correction = early_correction(curve, (PlannedEarly(age_h=4.0, n_specimens=2, maturity_h=5.1),))
    assert correction is not None
    leaf = leaf_of(render_curve_sheet(replace(issue, early_correction=correction, has_early_breaks=True)))
    found = correction_table(correction, curve.maturity)
    assert " ".join(found.headings) in leaf
    assert all(" ".join(row) in leaf for row in found.rows)
    assert found.how in leaf
    assert "which this table does not know" not in leaf


def test_age_zero_stands_on_the_leaf(issue: Issue) -> None:
    found = replace(issue, curve=replace(issue.curve, age_zero="moulded"))
    assert "Time begins at age zero: moulded." in leaf_of(render_curve_sheet(found))


def test_every_outcome_has_its_words() -> None:
    from planner.issued_curve.rules.lasting import Lasting
    from planner.issued_curve.rules.rescaling import Refusal
    from planner.issued_curve.rules.tonight import Ground

    assert set(VERDICT_WORDS) == set(Verdict)
    assert set(GROUND_WORDS) == set(Ground)
    assert set(LASTING_WORDS) == set(Lasting)
    assert set(REFUSAL_WORDS) == set(Refusal)


def test_site_checks_page_tells_every_check(tmp_path: Path) -> None:
    curve = issued_curve(mix="rapid panel mix", target_ages_h=(6.0, 24.0))
    maturities = (6.2, 24.5, 7.0, 26.0, 6.1, 25.0, 8.0)
    given = checks(tmp_path, *(rows(f"P{place}", m, 0.82) for place, m in enumerate(maturities)))
    answer = check_pours(runway_plan(), curve, given)
    page = text_of(render_site_checks(answer, standing=("Local codes decide.",)))
    account = plain_sections(site_checks_account(answer))
    for point in answer.verdict.points:
        assert f"{point.z:+.2f}" in page
        assert f"{point.cusum_low:.1f}" in page
        assert point.check.companions.batch in account
    assert "The curve is WITHDRAWN and replaced by a lower one under a new number." in page
    assert answer.rescaled is not None
    assert f"Curve 2 reads {answer.rescaled.scale:.3f} times curve 1" in page
    assert "Local codes decide." in page
    rescaled = rescaled_issue(answer, standing=("Local codes decide.",))
    assert rescaled is not None
    leaf = leaf_of(render_curve_sheet(rescaled))
    assert "Curve 1 scaled down by its site checks: in force when the responsible engineer has signed it." in leaf
    assert "Curve 2" in leaf


def test_site_checks_document_follows_its_contract(tmp_path: Path) -> None:
    curve = issued_curve(mix="rapid panel mix", target_ages_h=(6.0, 24.0))
    answer = check_pours(
        runway_plan(), curve, checks(tmp_path, rows("P1", 20.0, 0.95), rows("P2", 24.0, 0.76, required_mpa=19.5))
    )
    document = site_checks_document(answer)
    assert document["schema"] == "test-age-planner/site-checks/1"
    assert set(document["chance_of_alarm"]) == {"20", "40", "300"}
    first, second = document["points"]
    assert {"batch", "age_h", "read_mpa", "broken_mpa", "required_mpa", "z", "tonight", "cusum_low", "lasting"} <= set(
        first
    )
    assert (first["tonight"], first["lasting"]) == ("no objection", "keep")
    assert second["tonight"] == "wait"
    assert second["grounds"] == ["companions below required", "low check"]  # 19 of 19.5 MPa
    assert document["state"] == "keep"


@pytest.mark.parametrize(
    ("n_spares", "said"),
    [
        (0, "no spares were planned"),
        (1, "the spares of the register, T1-spare-1 (fewer than asked), laid beside the work"),
        (9, "the spares of the register, T1-spare-1 to T1-spare-3, laid beside the work"),
    ],
)
def test_break_more_names_the_spares(issue: Issue, n_spares: int, said: str) -> None:
    accepted = issue.acceptance
    assert accepted is not None
    check = next(check for check in accepted.checks if check.companions.is_target)
    item = replace(check.companions, n_specimens=3)
    asked = replace(issue, acceptance=replace(accepted, break_more=(item,)), n_spares=n_spares)
    found = break_more_words(asked)
    assert found.startswith("Break site-cured companions: 3 more of batch T1 at a maturity near")
    assert said in found
    assert found.endswith("repeat the trial batch.")
    assert found in plain_sections(curve_account(asked)).replace("\n", " ")
    assert break_more_words(issue) == ""


def test_picture_of_the_checks_tells_those_outside_the_range(tmp_path: Path) -> None:
    listed = [*rows("P1", 4.5, 0.9), *rows("P2", 24.0, 1.1)]
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, listed))
    drawn = {layer.label: layer for layer in checks_plot(answer).layers if isinstance(layer, Marks)}
    counted, outside = drawn["check"], drawn["outside the range, not counted"]
    assert [place for place, _ in outside.points] == [1.0]
    assert [place for place, _ in counted.points] == [2.0]
    assert (counted.shape, outside.shape) == ("dot", "ring")
    assert counted.points[0][1] == pytest.approx(answer.verdict.points[1].z)
    assert outside.points[0][1] == pytest.approx(answer.verdict.points[0].z)


def test_table_of_the_checks_by_hand(tmp_path: Path) -> None:
    listed = [*rows("P1", 4.5, 0.5), *rows("P2", 24.0, 1.0, required_mpa=20.0)]
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, listed))
    (table,) = [
        block
        for section in site_checks_account(answer)
        for block in section.blocks
        if isinstance(block, Table) and block.columns[0].heading == "pour"
    ]
    headings = [column.heading for column in table.columns]
    first, second = (dict(zip(headings, row, strict=True)) for row in table.rows)
    # S = 50 (t - 4) / (t + 16): 1.22 MPa at 4.5 h, below the first break, and 25.0 MPa at 24 h; 25 / 1.27 = 19.685
    assert (first["read, MPa"], first["safe, MPa"]) == ("1.2", "-")
    assert (second["read, MPa"], second["safe, MPa"], second["broken, MPa"]) == ("25.0", "19.6", "25.0")
    assert first["tonight"] == "wait: companions, low, outside"
    assert second["tonight"] == "wait: safe reading"
    # sd of two companions of 3 %: .1179237; 1.645 times that is 19 %
    assert "low: more than 19 % below read" in table.note


def test_back_says_who_reads_early_breaks(issue: Issue) -> None:
    planned = replace(issue, has_early_breaks=True, early_correction=None)
    with_model = replace(planned, curve=replace(issue.curve, pour_model=pour_model()))
    assert BY_THE_LABORATORY in leaf_of(render_curve_sheet(with_model))
    without = leaf_of(render_curve_sheet(replace(planned, curve=replace(issue.curve, pour_model=None))))
    assert NOT_BY_THIS_CURVE in without
    assert BY_THE_LABORATORY not in without
    assert NOT_BY_THIS_CURVE not in leaf_of(render_curve_sheet(replace(issue, has_early_breaks=False)))


def test_stop_rules_hold_the_figures_of_the_curve(issue: Issue) -> None:
    leaf = leaf_of(render_curve_sheet(issue))
    first, last = issue.table[0].maturity_h, issue.table[-1].maturity_h
    assert first < 10 < 100 < last
    assert f"A maturity below {first:.1f} h or above {last:.0f} h: no reading." in leaf
    assert issue.check_sd is not None
    # a check is low below 1.645 of its standard deviations
    assert f"The companions are low ({100 * 1.645 * issue.check_sd:.0f} % or more below read)" in leaf


def test_hours_stand_under_their_headings(issue: Issue) -> None:
    leaf = leaf_of(render_curve_sheet(issue))
    assert "MPa C earliest, h likely, h safe, h" in leaf
    (row,) = [row for row in issue.hours if None not in (row.earliest_h, row.likely_h, row.safe_h)][:1]
    assert row.earliest_h is not None
    assert row.safe_h is not None
    assert row.likely_h is not None
    assert row.earliest_h < row.likely_h < row.safe_h
    shown = f"{row.strength_mpa:g} {row.temperature_c:.0f} {row.earliest_h:.1f} {row.likely_h:.1f} "
    assert shown + f"{math.ceil(row.safe_h * 10 - 1e-9) / 10:.1f}" in leaf


def test_document_of_the_checks_by_hand(tmp_path: Path) -> None:
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, rows("P1", 20.0, 0.95)))
    (point,) = site_checks_document(answer)["points"]
    # 50 (20 - 4) / (20 + 16) MPa are read; the safe reading is that over 1.27
    read = 50 * 16 / 36
    figures = {"read_mpa": read, "safe_mpa": read / 1.27, "broken_mpa": 0.95 * read, "maturity": 20.0}
    assert {name: point[name] for name in figures} == pytest.approx(figures)


def test_document_gives_the_readings_in_the_unit_of_the_curve(issue: Issue) -> None:
    setting = MaturitySetting("temperature-time", -5.0, 20.0)
    found = curve_document(replace(issue, curve=replace(issue.curve, maturity=setting)))
    # an hour at 20 C over a datum of -5 C is 25 C h
    assert [reading["maturity"] for reading in found["readings"]] == [25 * row.maturity_h for row in issue.readings]


def test_a_notebook_reads_in_the_unit_of_the_curve(issue: Issue) -> None:
    found = replace(issue, curve=replace(issue.curve, maturity=MaturitySetting("temperature-time", -5.0, 20.0)))
    answer = CurveAnswer(result=found, document={}, sections=(), shown=ShownAs(), files={})
    read = answer.read(24.0 * 25.0)  # an hour at 20 C over a datum of -5 C is 25 C h
    assert read["strength_mpa"].tolist() == [issue.curve.read(24.0)]
    assert read["safe_mpa"].tolist() == [issue.curve.safe(24.0)]
