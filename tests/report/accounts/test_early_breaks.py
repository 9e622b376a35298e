"""Early breaks of later pours on every output, and where they must not stand."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from planner.report.accounts.brief_account import brief_account
from planner.report.accounts.full_account import recommendation_account
from planner.report.accounts.parts.early_break_account import HEADING, early_break_section
from planner.report.documents.pages.page import render_page
from planner.report.documents.values.recommendation_document import recommendation_document, write_json
from planner.report.figures.drawing.plot import Line, Marks
from planner.report.figures.early_breaks_chart import early_plot
from planner.report.text.blocks import Bullets, Table
from planner.terms.results.after_casting.early_answer import EarlyBreakRow, EarlyBreaks
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.invented_result import invented_recommendation

ROW = EarlyBreakRow(
    ages_h=(), specimens=(), n_trial_batches=0, reading="records", rms=0.094, rms_upper_95=0.155,
    is_below_resolution=False,
    within_tolerance=0.81, over_predicted_beyond_tolerance=0.12, reads_within=0.218, safe_reading_factor=1.161,
    rms_by_target=(0.1, 0.09), rms_records=0.094, rms_records_and_trial=0.093, rms_rescaled=0.116,
    cost_per_pour=0.0, cost_of_pours=0.0, cost_of_calibration=0.0,
)  # fmt: skip
OTHER = replace(
    ROW, ages_h=(4.0, 8.0), specimens=(2, 1), rms=0.046, is_below_resolution=True, within_tolerance=0.94,
    over_predicted_beyond_tolerance=0.0, reads_within=0.099, safe_reading_factor=1.0701, rms_rescaled=0.087,
    cost_per_pour=165.0, cost_of_pours=6600.0,
)  # fmt: skip
ANSWER = EarlyBreaks(
    rows=(ROW, OTHER), recommended=1, is_enough=True, n_batches=9, n_plans=9, n_pours=40, currency="EUR",
    sentences=("The rival reads worse.", "Same materials alone.", "With two, 9 in 10 are read well.\x1b[31m"),
    by_trials=((ROW, OTHER),), offered=(0,),
)  # fmt: skip


def told_with(answer: EarlyBreaks | None) -> Recommendation:
    return replace(invented_recommendation(), early_breaks=answer)


def test_table_holds_every_figure() -> None:
    rival, table, bullets = early_break_section(told_with(ANSWER)).blocks
    assert rival == Bullets(("The rival reads worse.", "Same materials alone."))
    assert isinstance(table, Table)
    assert isinstance(bullets, Bullets)
    assert [column.heading for column in table.columns] == [
        "each pour breaks", "RMS error", "inside", "over", "90 % within", "safe factor", "trial curve",
        "calibration", "per pour", "40 pours",
    ]  # fmt: skip
    assert table.rows == (
        ("nothing", "9.4 %", "81 %", "12 %", "21.8 %", "1.17", "11.6 %", "0 EUR", "0 EUR", "0 EUR"),
        ("4 h x2, 8 h x1", "4.6 % *", "94 %", "0 %", "9.9 %", "1.08", "8.7 %", "0 EUR", "165 EUR", "6600 EUR"),
    )
    assert "judged by 9 earlier batches" in table.note
    assert "among 9 plans" in table.note
    assert bullets.items == ("With two, 9 in 10 are read well. [31m",)


def test_money_is_left_out_where_there_are_no_prices() -> None:
    rows = tuple(replace(row, cost_per_pour=None, cost_of_pours=None, cost_of_calibration=None) for row in ANSWER.rows)
    table = early_break_section(told_with(replace(ANSWER, rows=rows, n_pours=None))).blocks[1]
    assert isinstance(table, Table)
    assert table.columns[-1].heading == "trial curve"
    assert all(len(row) == len(table.columns) for row in table.rows)


@pytest.mark.parametrize(
    ("number", "reading", "said"),
    [
        (0, "records", "read from the earlier batches and the pour's own breaks"),
        (1, "records and trial", "one trial batch and the pour's own breaks"),
        (2, "records and trial", "2 trial batches and the pour's own breaks"),
        (2, "rescaled", "read off the curve of 2 trial batches, shifted to the pour's own breaks"),
    ],
)
def test_what_the_pours_are_read_by_is_named(number: int, reading: Any, said: str) -> None:
    rows = tuple(replace(row, n_trial_batches=number, reading=reading) for row in ANSWER.rows)
    table = early_break_section(told_with(replace(ANSWER, rows=rows))).blocks[1]
    assert isinstance(table, Table)
    assert said in table.note
    assert f"curve, of {'one trial batch' if number < 2 else '2 trial batches'}, shifted" in table.note


def test_numbers_of_trial_batches_stand_side_by_side() -> None:
    """The same early specimens as recommended; money of the calibration, and with that of all pours."""
    cast = tuple(
        replace(row, n_trial_batches=1, reading="records and trial", rms=0.045, cost_of_calibration=1249.0)
        for row in ANSWER.rows
    )
    shifted = tuple(replace(row, n_trial_batches=2, reading="rescaled", cost_of_calibration=2498.0) for row in cast)
    table = early_break_section(told_with(replace(ANSWER, by_trials=(ANSWER.rows, cast, shifted)))).blocks[2]
    assert isinstance(table, Table)
    assert [column.heading for column in table.columns] == [
        "trial batches", "each pour breaks", "read by", "RMS error", "90 % within", "calibration", "with all pours",
    ]  # fmt: skip
    assert table.rows == (
        ("0", "4 h x2, 8 h x1", "records", "4.6 % *", "9.9 %", "0 EUR", "6600 EUR"),
        ("1", "4 h x2, 8 h x1", "records and trial", "4.5 % *", "9.9 %", "1249 EUR", "7849 EUR"),
        ("2", "4 h x2, 8 h x1", "trial curve, shifted", "4.5 % *", "9.9 %", "2498 EUR", "9098 EUR"),
    )


def test_full_account_and_page_tell_it_and_the_first_screen_does_not() -> None:
    found = told_with(ANSWER)
    headings = [section.heading for section in recommendation_account(found)]
    assert HEADING in headings
    assert headings.index(HEADING) > 0
    assert HEADING not in [section.heading for section in brief_account(found)]
    page = render_page(found)
    assert page.count(HEADING) >= 1
    assert "4 h x2, 8 h x1" in page.replace("\u00a0", " ")


def test_nothing_stands_where_the_plan_foresees_none() -> None:
    assert HEADING not in [section.heading for section in recommendation_account(told_with(None))]
    assert recommendation_document(told_with(None))["early_breaks"] is None


def test_why_it_cannot_be_judged_stands_without_a_table() -> None:
    untold = replace(ANSWER, rows=(), recommended=None, sentences=("Cannot be judged: two batches.",))
    (block,) = early_break_section(told_with(untold)).blocks
    assert block == Bullets(("Cannot be judged: two batches.",))


def test_document_holds_the_same_figures() -> None:
    document = json.loads(write_json(recommendation_document(told_with(ANSWER))))["early_breaks"]
    assert document["recommended"] == 1
    assert document["rows"][1]["ages_h"] == [4.0, 8.0]
    assert document["rows"][1]["specimens"] == [2, 1]
    assert document["rows"][1]["safe_reading_factor"] == pytest.approx(1.0701)
    assert document["rows"][0]["rms_rescaled"] == pytest.approx(0.116)
    assert document["sentences"][0] == "The rival reads worse."


def test_programmes_of_the_document_hold_what_each_pour_breaks() -> None:
    found = told_with(ANSWER)
    document = json.loads(write_json(recommendation_document(found)))
    none, two = document["programmes"][-2:]
    assert (none["n_trial_batches"], none["ages_h"], none["specimens"], none["curve"]) == (0, [], [], "records")
    assert none["own_batch"] is None
    assert none["early"] is None
    assert two["early"] == {"ages_h": [4.0, 8.0], "specimens": [2, 1]}
    assert two["reading"] == "records"
    assert two["next_batch"]["rms"] == pytest.approx(0.046)
    assert two["next_batch"]["rms_upper_95"] == pytest.approx(0.155)
    assert two["next_batch"]["safe_reading_factor"] == pytest.approx(1.0701)
    assert (two["cost"], two["cost_per_pour"]) == (0.0, 165.0)
    assert (none["is_enough"], two["is_enough"]) == (False, True)  # 21.8 and 9.9 % beside a tolerance of 10 %
    assert (none["is_tied"], two["is_tied"]) == (False, True)
    assert document["recommended_early_programme"] == two
    rows = tuple(
        replace(row, n_trial_batches=2, reading="records and trial", cost_of_calibration=1249.0) for row in ANSWER.rows
    )
    both = replace(ANSWER, rows=rows, by_trials=(ANSWER.rows, rows))
    programmes = recommendation_document(told_with(both))["programmes"]
    cast, schedule = programmes[-1], found.recommended.schedule
    assert [item["is_tied"] for item in programmes[-4:]] == [False, False, False, True]
    assert (cast["n_trial_batches"], cast["n_specimens"]) == (2, 2 * schedule.n_specimens)
    assert (cast["ages_h"], cast["specimens"]) == (list(schedule.ages_h), list(schedule.specimens))
    assert cast["curve"] == found.recommended.curve
    assert cast["cost"] == 1249.0
    assert recommendation_document(told_with(None))["recommended_early_programme"] is None


def test_picture_of_what_each_pour_breaks() -> None:
    plot = early_plot(told_with(ANSWER))
    assert plot is not None
    lines = {layer.label: layer.points for layer in plot.layers if isinstance(layer, Line) and layer.label}
    assert lines == {
        "90 % of pours are read within": ((0.0, 0.218), (3.0, 0.099)),
        "RMS error": ((0.0, 0.094), (3.0, 0.046)),
        "RMS error, trial curve shifted to the same breaks": ((0.0, 0.116), (3.0, 0.087)),
    }
    worth = next(layer for layer in plot.layers if isinstance(layer, Marks) and layer.label == "worth it")
    assert worth.points == ((3.0, 0.099),)
    assert "4 h x2, 8 h x1: 4.6 %, 90 % within 9.9 %" in plot.description
    assert early_plot(told_with(None)) is None
    assert early_plot(told_with(replace(ANSWER, rows=(), recommended=None))) is None
    assert "What each pour breaks, and how well it is then read" in render_page(told_with(ANSWER))
