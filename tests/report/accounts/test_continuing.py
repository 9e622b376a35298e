"""A trial batch after its first breaks and the tables laid down before casting, on every output."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from planner.report.accounts.after_casting.continuing_account import if_then_section, trial_section
from planner.report.accounts.brief_account import brief_account
from planner.report.accounts.full_account import recommendation_account
from planner.report.documents.pages.page import render_page
from planner.report.documents.values.recommendation_document import recommendation_document, write_json
from planner.report.figures.after_casting.trial_over_earlier import trial_plot
from planner.report.figures.drawing.plot import Line, Marks
from planner.report.text.blocks import Bullets, Paragraph, Table
from planner.report.text.plain_blocks import plain_sections
from planner.terms.results.after_casting.continuing import BrokenMean, IfThen, IfThenBand, IfThenTable, TrialAnswer
from planner.terms.results.recommended.plotted_points import GrowthPoint
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from planner.verdict.wording.continuing_words import band_words, why_words
from tests.report.invented_geometries import answer as geometry_answer
from tests.report.invented_result import invented_recommendation

TRIAL = TrialAnswer(
    batch="T1",
    broken=(
        BrokenMean(age_h=4.0, maturity_h=4.86, mean_mpa=15.0, n_specimens=2, expected_mpa=16.7),
        BrokenMean(age_h=6.0, maturity_h=7.1, mean_mpa=22.0, n_specimens=3, expected_mpa=20.0),
    ),
    action="move",
    planned=Schedule((4.0, 8.0, 24.0, 336.0), (2, 2, 3, 2)),
    remaining=Schedule((12.0, 336.0), (2, 3)),
    error_before=0.0319,
    error_as_planned=0.0402,
    error_after=0.0298,
    likeness=(("R1", 0.11), ("R2", 0.6), ("R3", 0.29)),
    stranger=None,
    noticed_deficit=0.453,
    n_rescored=1789,
    cost_change=-120.4,
    why=("Because.\x1b[31m",),
)
TABLE = IfThenTable(
    age_h=4.0,
    n_specimens=2,
    expected_mpa=17.65,
    bands=(
        IfThenBand(low_mpa=None, high_mpa=11.76, action="stop", what="stop here", sound_share=0.0051, batches=()),
        IfThenBand(
            low_mpa=11.76, high_mpa=26.5, action="go on", what="go on", sound_share=0.98, batches=("R1", "R2\x1b[31m")
        ),
        IfThenBand(low_mpa=26.5, high_mpa=None, action="stop", what="stop too", sound_share=0.0151, batches=()),
    ),
    error_planned=0.0326,
    error_followed=0.0311,
    specimens_planned=9.0,
    specimens_followed=9.4,
    n_batches=9,
    n_changed=2,
    can_tell_strangers=True,
    noticed_deficit=0.45,
)


def told_with(**given: object) -> Recommendation:
    growth = tuple(
        GrowthPoint(batch=batch, curing="standard", age_h=age, maturity_h=age, strength_mpa=factor * age, n_specimens=3)
        for batch, factor in (("R1", 1.0), ("R2", 2.0))
        for age in (4.0, 8.0)
    )
    return replace(invented_recommendation(), growth=growth, **given)  # type: ignore[arg-type]


def test_trial_batch_says_what_to_break_now() -> None:
    headline, table, bullets = trial_section(told_with(trial=TRIAL)).blocks
    assert headline == Paragraph("Move the later breaks: break 12 h x2, 14 d x3.", is_strong=True)
    assert isinstance(table, Table)
    assert table.rows == (
        ("4 h", "2", "4.9", "15.0", "16.7", "-10.2 %"),
        ("6 h", "3", "7.1", "22.0", "20.0", "+10.0 %"),
    )
    assert bullets == Bullets(("Because. [31m",))


@pytest.mark.parametrize(
    ("action", "remaining", "said"),
    [
        ("go on", TRIAL.remaining, "Go on as planned: break 12 h x2, 14 d x3."),
        ("add", TRIAL.remaining, "Add specimens: break 12 h x2, 14 d x3."),
        (
            "stop",
            TRIAL.remaining,
            "STOP and look for what went wrong. If nothing is found: break 12 h x2, 14 d x3, as planned.",
        ),
        ("go on", None, "Go on as planned: nothing remains to be broken."),
    ],
)
def test_every_action_has_its_sentence(action: object, remaining: Schedule | None, said: str) -> None:
    trial = replace(TRIAL, action=action, remaining=remaining)  # type: ignore[arg-type]
    assert trial_section(told_with(trial=trial)).blocks[0] == Paragraph(said, is_strong=True)


def test_reasons_hold_their_figures() -> None:
    said = list(why_words(TRIAL, currency="EUR"))
    assert "a deficit of 45 % would be noticed 9 times in 10" in said[0]
    assert (
        said[1] == "Of the earlier batches R2 is most like it and counts 60 %, where all alike would count 33 % each."
    )
    assert said[2].startswith(
        "As planned the curve of this batch errs 4.0 % on its own batch (RMS); before the breaks 3.2"
    )
    # 8 h is still ahead of the last break at 6 h
    assert said[3] == "With 12 h x2, 14 d x3 still to break, instead of 8 h x2, 1 d x3, 14 d x2, it errs 3.0 %."
    assert said[4] == "Specimens still to break: 2 fewer than planned, 120 EUR less."
    assert said[5].startswith("1789 schedules begin with these breaks")
    kept = replace(TRIAL, action="go on", remaining=Schedule((8.0, 24.0, 336.0), (2, 3, 2)), cost_change=0.0)
    assert "Specimens still to break: as many as planned." in list(why_words(kept, currency="EUR"))
    more = replace(TRIAL, remaining=Schedule((8.0, 24.0, 336.0), (2, 3, 4)), cost_change=55.0)
    assert "Specimens still to break: 2 more than planned, 55 EUR more." in list(why_words(more, currency="EUR"))


def test_words_of_the_bands() -> None:
    later = Schedule((8.0,), (3,))
    assert band_words("go on") == "go on as planned"
    assert band_words("move", remaining=later) == "move the later breaks, for instance 8 h x3"
    assert band_words("add", remaining=later) == "add specimens, for instance 8 h x3"
    assert band_words("stop").startswith("stop: look for water, admixture, clock")
    assert band_words("stop", is_pour=True) == band_words("stop")
    assert band_words("move", is_pour=True) == "too weak to tell: break again later, and read from that"
    assert band_words("add", is_pour=True).startswith("break one specimen more")
    assert band_words("go on", is_pour=True) == "go on, and read the pour"


def test_tables_laid_down_hold_every_figure() -> None:
    pour = replace(TABLE, n_specimens=1, can_tell_strangers=False)
    first, second = if_then_section(told_with(if_then=IfThen(trial=TABLE, pour=pour))).blocks
    assert isinstance(first, Table)
    assert isinstance(second, Table)
    assert first.columns[0].heading == "trial batch, mean of 2 specimens at 4 h, MPa"
    assert second.columns[0].heading == "each pour, mean of 1 specimen at 4 h, MPa"
    assert first.rows == (
        ("below 11.8", "stop here", "0.5 %", "-"),
        ("11.8 to 26.5", "go on", "98 %", "R1, R2 [31m"),
        ("26.5 or more", "stop too", "1.5 %", "-"),
    )
    assert "Expected 17.6 MPa" in first.note or "Expected 17.7 MPa" in first.note
    assert "9 earlier batches, each judged by the others: 2 would have left the plan" in first.note
    assert "error 3.3 % as planned, 3.1 % with the table followed; specimens 9.0 and 9.4" in first.note
    assert "deficit of 45 %" in first.note
    assert "Too few earlier batches" not in first.note
    assert "Too few earlier batches to stop for a stranger: only a deficit of 45 % would be noticed" in second.note


def test_full_account_page_and_document_have_them() -> None:
    found = told_with(trial=TRIAL, if_then=IfThen(trial=TABLE, pour=None))
    full = plain_sections(recommendation_account(found), width=400)
    page = render_page(found).replace("\u00a0", " ")
    for text in (full, page):
        assert "Move the later breaks: break 12 h x2, 14 d x3." in text
        assert "Laid down before casting" in text
    assert brief_account(found)[0].heading == "Trial batch T1 after its first breaks"
    assert "Laid down before casting" not in plain_sections(brief_account(found))
    document = json.loads(write_json(recommendation_document(found)))
    trial = document["trial"]
    keys = "batch broken action remaining why error_before error_after stranger"
    assert set(keys.split()) <= set(trial)
    assert trial["remaining"] == {"ages_h": [12.0, 336.0], "specimens": [2, 3]}
    assert document["if_then"]["trial"]["bands"][1]["sound_share"] == pytest.approx(0.98)
    plain = json.loads(write_json(recommendation_document(told_with())))
    assert "trial" not in plain
    assert plain["if_then"] is None


def test_picture_of_the_batch_over_the_earlier_ones() -> None:
    plot = trial_plot(told_with(trial=TRIAL))
    assert plot is not None
    by_label = {layer.label: layer for layer in plot.layers if isinstance(layer, Line | Marks) and layer.label}
    assert by_label["R2, most like it"].points == ((4.0, 8.0), (8.0, 16.0))
    assert by_label["earlier batches"].points == ((4.0, 4.0), (8.0, 8.0))
    assert by_label["T1"].points == ((4.0, 15.0), (6.0, 22.0))
    assert [age for age, _ in by_label["still to break"].points] == [12.0, 336.0]
    assert trial_plot(told_with()) is None
    done = trial_plot(told_with(trial=replace(TRIAL, remaining=None)))
    assert done is not None
    assert "still to break" not in {getattr(layer, "label", "") for layer in done.layers}


def test_first_means_of_converted_specimens_stand_as_they_are_broken() -> None:
    # 0.8 times the cube: every end and what is expected divided by 0.8
    found = told_with(trial=TRIAL, if_then=IfThen(trial=TABLE, pour=None), geometries=geometry_answer())
    (table,) = if_then_section(found).blocks
    assert isinstance(table, Table)
    assert table.columns[0].heading.startswith("trial batch (cube 100 mm as broken), mean of ")
    for row, band in zip(table.rows, TABLE.bands, strict=True):
        for end in (band.low_mpa, band.high_mpa):
            assert end is None or f"{end / 0.8:.1f}" in row[0]
    assert f"Expected {TABLE.expected_mpa / 0.8:.1f} MPa" in table.note
    plain = next(block for block in trial_section(found).blocks if isinstance(block, Table))
    assert plain.note.endswith("Strengths are converted from cube 100 mm to cylinder 100x200 mm.")
