"""One pour on screen, page, picture and in its document: the figures of the answer, under the right headings."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from planner.issued_curve.pour_answer import PourAnswer
from planner.report.accounts.after_casting.pour_account import pour_account
from planner.report.documents.pages.after_casting_pages import render_pour
from planner.report.documents.values.pour_document import pour_document
from planner.report.documents.values.recommendation_document import write_json
from planner.report.figures.after_casting.pour_reading_chart import pour_plot
from planner.report.figures.drawing.plot import Line, Marks
from planner.report.text.blocks import Facts, Paragraph, Table
from planner.report.text.plain_blocks import plain_sections
from planner.report.text.shown_blocks import sections_shown
from planner.report.text.shown_units import shown_in
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.shown_as import ShownAs
from tests.after_casting.test_read_pour import FOUR_HOURS, answer_of, curve, early, record
from tests.issued_curve.invented_curves import pour_model


@pytest.fixture
def answer(tmp_path: Path) -> PourAnswer:
    return answer_of(tmp_path, *FOUR_HOURS, site=record(25.0))


def test_first_table_holds_every_reading(answer: PourAnswer) -> None:
    first = pour_account(answer)[0]
    table = first.blocks[1]
    assert isinstance(table, Table)
    assert [column.heading for column in table.columns] == [
        "read at", "maturity, h", "concrete", "curve alone, MPa", "this pour, MPa", "90 % lie in, MPa",
        "safe reading, MPa",
    ]  # fmt: skip
    assert [cells[0] for cells in table.rows] == ["6 h", "1 d", "26 h, record ends"]
    for cells, row in zip(table.rows, answer.rows, strict=True):
        assert row.interval_mpa is not None
        assert row.safe_mpa is not None
        low, high = row.interval_mpa
        assert cells[1:] == (
            f"{row.maturity_h:.1f}", "25.0 C", f"{row.curve_mpa:.1f}", f"{row.strength_mpa:.1f}",
            f"{low:.1f} to {high:.1f}", f"{row.safe_mpa - 0.05 + 1e-9:.1f}",
        )  # fmt: skip


def test_headline_names_targets_alone_with_their_safe_readings(answer: PourAnswer) -> None:
    text = plain_sections(pour_account(answer), width=400)
    six, day = answer.rows[:2]
    assert six.safe_mpa is not None
    assert f"Pour P1 reads 6 h {six.strength_mpa:.1f} MPa, safe reading {six.safe_mpa - 0.0499:.1f} MPa; 1 d" in text
    assert f"1 d {day.strength_mpa:.1f} MPa" in text
    assert "26 h, record ends" not in text.splitlines()[1]
    assert "No reading is a permission" in text


def test_stranger_is_shown_without_a_reading(tmp_path: Path) -> None:
    stranger = answer_of(tmp_path, early(4, 3.1, 5.1))
    text = plain_sections(pour_account(stranger), width=400)
    assert "Pour P1 is a STRANGER to the earlier batches: no strength may be read." in text
    assert "By maturity" not in text
    page = render_pour(stranger, standing=("Local codes decide.",))
    assert "STRANGER" in page
    assert "Local codes decide." in page
    assert not [layer for layer in pour_plot(stranger).layers if isinstance(layer, Line)]


def test_what_it_rests_on(tmp_path: Path) -> None:
    found = answer_of(tmp_path, *FOUR_HOURS, with_curve=curve(pour_model(reading="records")))
    section = next(section for section in pour_account(found) if section.heading == "Early breaks")
    table, facts = section.blocks
    assert isinstance(table, Table)
    assert isinstance(facts, Facts)
    assert table.rows == (("4 h", "standard", "2", "5.1", "9.5"),)
    said = dict(facts.pairs)
    assert said["read by"].startswith("9 earlier batches and the pour's own breaks")
    test = found.strangeness
    assert (
        f"like them: F {test.distance:.2f}, 99 % point {test.limit:.2f} (1 and 8 degrees"
        in said["like the earlier batches"]
    )
    assert "by 7.0 % in strength and 11.0 % in rate" in said["batches differ"]
    assert "1.10 times as far off" in said["batches differ"]  # sqrt(1.21)


def test_picture_has_the_early_breaks_and_the_readings(answer: PourAnswer) -> None:
    plot = pour_plot(answer)
    by_label = {layer.label: layer for layer in plot.layers if isinstance(layer, Line | Marks)}
    assert by_label["early breaks"].points == ((5.1, 9.5),)
    assert by_label["read at targets"].points == tuple((row.maturity_h, row.strength_mpa) for row in answer.rows)
    last = 2 * max(row.maturity_h for row in answer.rows if row.maturity_h)
    shown = [row for row in answer.table if row.maturity_h <= last]
    assert by_label["this pour"].points == tuple((row.maturity_h, row.strength_mpa) for row in shown)
    assert by_label["safe reading"].points == tuple((row.maturity_h, row.safe_mpa) for row in shown)
    assert by_label["curve alone"].points == tuple((row.maturity_h, row.curve_mpa) for row in shown)


def test_document_is_in_the_unit_of_the_curve(tmp_path: Path) -> None:
    datum = curve(maturity=MaturitySetting("temperature-time", 0.0, 20.0))
    found = answer_of(tmp_path, early(4, 9.2, 102), with_curve=datum)
    document = json.loads(write_json(pour_document(found)))
    assert document["maturity_unit"] == "C h"
    assert document["early"][0]["maturity"] == pytest.approx(102.0)
    assert found.early[0].maturity_h == pytest.approx(5.1)
    assert [row["maturity"] for row in document["readings"]] == pytest.approx([120.0, 480.0])
    assert document["readings"][0]["safe_mpa"] == found.rows[0].safe_mpa
    assert document["readings"][0]["interval_mpa"] == list(found.rows[0].interval_mpa or ())
    assert document["table"][-1]["maturity"] == pytest.approx(20 * found.table[-1].maturity_h)
    assert document["stranger"]["is_stranger"] is False
    assert document["batch"] == "P1"
    assert document["assurance"] == 0.9


def test_in_us_units_the_sentence_agrees_with_the_table(answer: PourAnswer) -> None:
    """A safe strength is rounded down in both."""
    with shown_in(ShownAs(units="US")):
        first = sections_shown(pour_account(answer))[0]
    sentence, table = first.blocks
    assert isinstance(sentence, Paragraph)
    assert isinstance(table, Table)
    assert table.columns[-1].heading == "safe reading, psi"
    for row, cells in zip(answer.rows[:2], table.rows, strict=False):
        assert row.safe_mpa is not None
        assert float(cells[-1].replace(",", "")) <= row.safe_mpa / 0.00689475729
        assert f"safe reading {cells[-1]} psi" in sentence.text
        assert f"{cells[4]} psi" in sentence.text
