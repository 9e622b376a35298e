"""Which specimen to cast and its conversion, as a reader meets them: every figure stands where its heading says."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import pytest
from openpyxl import load_workbook

from planner.report.accounts.geometries.conversion_account import conversion_sections
from planner.report.accounts.geometries.geometry_account import casting_lines, geometry_section, specimen_facts
from planner.report.documents.pages.testing_room import as_broken
from planner.report.documents.values.conversion_document import conversions_document, geometries_document
from planner.report.documents.workbook import render_workbook
from planner.report.figures.conversion_chart import conversion_plot
from planner.report.text.blocks import Bullets, Table
from planner.report.text.conversion_words import conversion_sentences, counted_words, read_as_words, span_words
from planner.report.text.shown_units import column_in, in_words, shown_in
from planner.terms.plan.settings import Budget, ChoiceLimits, Settings, Target
from planner.terms.plan.shown_as import ShownAs
from planner.terms.results.after_casting.curve_conversion import CurveConversion
from planner.terms.results.geometry.geometry_options import ErrorParts
from tests.report.invented_geometries import CUBE, CYLINDER, answer, conversion, option
from tests.report.invented_result import invented_recommendation


def told() -> Any:
    return replace(invented_recommendation(), geometries=answer())


def cells(table: Table, row: int) -> dict[str, str]:
    return {column.heading: cell for column, cell in zip(table.columns, table.rows[row], strict=True)}


def test_concrete_is_told_in_cubic_feet_where_the_plan_asks_for_them() -> None:
    # 70 L / 28.3168 L in a cubic foot
    table = geometry_section(told()).blocks[0]
    assert isinstance(table, Table)
    heading = table.columns[-1].heading
    with shown_in(ShownAs(units="US")):
        shown, cell = column_in(heading)
        assert (shown, cell(table.rows[1][-1])) == ("concrete, ft3", "2.47")


def test_work_and_money_stand_under_their_headings_and_add_up() -> None:
    table, parts, bullets = geometry_section(told()).blocks
    assert isinstance(table, Table)
    cube, cylinder = cells(table, 0), cells(table, 1)
    assert cube["specimen"].replace("\N{NO-BREAK SPACE}", " ") == "cube 100 mm"
    wanted = {"broken": "6", "RMS, %": "7.0", "inside": "85 %", "ends": "0", "min": "30", "visits": "2", "moulds": "12"}
    assert {key: cube[key].strip() for key in wanted} == wanted
    assert cube["concrete, L"] == "13"
    wanted = {"broken": "9", "RMS, %": "7.5", "ends": "198", "min": "72", "visits": "3", "moulds": "15",
              "concrete, L": "70"}  # fmt: skip
    assert {key: cylinder[key].strip() for key in wanted} == wanted
    assert isinstance(parts, Table)
    row = cells(parts, 0)
    assert (row["curve, %"], row["conversion, %"], row["scatter, %"], row["batches"], row["measured"]) == (
        "6.0", "2.0", "4.2", "7", "5",
    )  # fmt: skip
    assert isinstance(bullets, Bullets)
    text = " ".join(bullets.items)
    # 7^2 = 49, 6^2 = 36, 2^2 = 4, so 9 are left
    assert "total is 49.0: curve 36.0, conversion 4.0, twice their covariance +9.0" in text
    assert "prism 100x100x400 mm is not compared: the records hold no break of it." in text


def test_the_recommended_one_stands_first_and_is_marked_wherever_the_plan_lists_it() -> None:
    turned = answer(options=tuple(reversed(answer().options)))  # prism, cylinder, cube
    for found in (answer(), turned):
        table, parts, _ = geometry_section(replace(told(), geometries=found)).blocks
        for block in (table, parts):
            assert isinstance(block, Table)
            names = [row[0] for row in block.rows]  # kept on one line; the prism was not searched
            assert names == [name.replace(" ", "\N{NO-BREAK SPACE}") for name in (CUBE, CYLINDER)]
        assert isinstance(table, Table)
        assert isinstance(parts, Table)
        assert table.n_marked == parts.n_marked == 1
        assert "measured: batches with a truth" in parts.note
        row = cells(table, 1)
        assert row["EUR"].strip() == "835"
        assert f"strength of {CYLINDER}" in table.note
        assert "ends: part of the money" in table.note


def test_errors_that_seem_to_cancel_are_told_as_not_credited() -> None:
    # 8^2 = 64, 7^2 = 49, 4^2 = 16: nothing is left; as shown 6^2 = 36, so 29 less than the parts
    error = ErrorParts(total_rms=0.08, curve_rms=0.07, conversion_rms=0.04, not_credited=0.001, shown_rms=0.06)
    for changed, said, left in (
        ({"error": error}, "show -29.0 for the last; so few cannot tell that from chance", "largely chance"),
        ({"error": replace(error, not_credited=0.0)}, "(over 5 batches with a truth", "so few cannot tell"),
    ):
        *_, bullets = geometry_section(replace(told(), geometries=answer(options=(option(**changed),)))).blocks
        assert isinstance(bullets, Bullets)
        text = " ".join(bullets.items)
        assert "the total is 64.0: curve 49.0, conversion 16.0, twice their covariance -1.0" in text
        assert said in text
        assert left not in text


def test_several_trial_batches_stand_before_their_schedule() -> None:
    one = option()
    assert one.programme is not None
    two = replace(one, programme=replace(one.programme, n_trial_batches=2))
    for cube, begins in ((one, "8h 16h"), (two, "2 times 8h 16h")):
        _, parts, _ = geometry_section(replace(told(), geometries=answer(options=(cube,)))).blocks
        assert isinstance(parts, Table)
        assert cells(parts, 0)["break at, specimens"].replace("\N{NO-BREAK SPACE}", " ").startswith(begins)


def test_a_stated_factor_holds_by_the_word_of_the_plan_and_once() -> None:
    stated = conversion(form="stated factor", ratio_se=None, n_pairs=0, n_batches=0, deciding=())
    holds = dict(casting_lines(replace(told(), geometries=answer(conversions=(stated,)))))["Holds"]
    assert holds.startswith("No pairs: the factor of 0.800")
    assert "is the plan's word" in holds
    assert holds.count("C30/37") == 1


def test_without_prices_no_column_of_money_stands() -> None:
    bare = tuple(
        replace(one, cost=None, preparation_cost=None, programme=one.programme and replace(one.programme, cost=None))
        for one in answer().options
    )
    table, *_ = geometry_section(replace(told(), geometries=answer(options=bare), currency="")).blocks
    assert isinstance(table, Table)
    assert [column.heading for column in table.columns] == [
        *("specimen", "broken", "RMS, %", "inside", "min", "visits", "moulds", "concrete, L")
    ]
    assert "ends:" not in table.note
    assert cells(table, 0)["min"].strip() == "30"


def test_first_screen_names_geometry_and_conversion() -> None:
    ((term, text),) = specimen_facts(told())
    assert term == "Specimen"
    assert text == (
        "cube 100 mm, the cheapest that is good enough; read as cylinder 100x200 mm: 0.800 times, standard error 0.010 "
        "(conversion 2.0 % off, in the errors above)"
    )
    assert specimen_facts(invented_recommendation()) == []


@pytest.mark.parametrize(
    ("changed", "wanted"),
    [
        ({}, "One factor is enough"),
        # 0.7 x^0.04: 0.768 at 10, 0.819 at 50
        ({"form": "power law"}, "goes from 0.768 at 10 MPa to 0.819 at 50 MPa"),
        ({"deciding": ((16.0, 60.0, 0.03),)}, "do not reach 16 h (60 MPa)"),
        ({"drift_per_decade": -0.04}, "by -4.0 % for ten times the age"),
        ({"ratio_se": None}, "0.800 with 2.5 % from batch to batch is the plan's word"),
        ({}, "from 3.0 % to 2.8 % with 2 more, 2.7 % with 5 more"),
        ({}, "C30/37"),
    ],
)
def test_sentences_of_a_conversion(changed: dict[str, Any], wanted: str) -> None:
    assert wanted in " ".join(conversion_sentences(conversion(**changed)))


def test_tables_of_a_conversion() -> None:
    (section,) = conversion_sections((conversion(),))
    strengths, ages = (block for block in section.blocks if isinstance(block, Table))
    assert list(cells(strengths, 0).items()) == [
        ("broken, MPa", "10.0"), ("read, MPa", "8.0"), ("from, MPa", "7.5"), ("to, MPa", "8.6"),
    ]  # fmt: skip
    assert ages.rows == (("16 h", "4", "-1.2", "0.7"), ("1 d", "1", "+3.0", "-")) or ages.rows[1][:3] == (
        "1 d", "1", "+3.0",
    )  # fmt: skip


def test_picture_holds_every_pair_and_the_band() -> None:
    plot = conversion_plot(told())
    assert plot is not None
    area, line, marks = plot.layers
    assert marks.points == ((30.0, 24.5), (40.0, 31.0))  # type: ignore[union-attr]
    assert line.points == ((10.0, 8.0), (50.0, 40.0))  # type: ignore[union-attr]
    assert area.points == ((10.0, 8.6), (50.0, 42.9), (50.0, 37.3), (10.0, 7.5))  # type: ignore[union-attr]
    assert conversion_plot(invented_recommendation()) is None


def test_the_testing_room_expects_what_the_cubes_will_show() -> None:
    here = told()
    for point, broken in zip(here.growth, as_broken(here), strict=True):
        assert broken.strength_mpa == pytest.approx(point.strength_mpa / 0.8)
    assert as_broken(invented_recommendation()) == invented_recommendation().growth


def test_documents_hold_the_same() -> None:
    (found,) = conversions_document((conversion(),))
    assert (found["from"], found["to"], found["ratio"], found["chosen"]) == ("cube 100 mm", CYLINDER, 0.8, "ratio")
    assert found["power"] == [0.7, 1.04]
    assert found["targets"] == [{"age_h": 16.0, "from_mpa": 30.0, "error": 0.03}]
    document = geometries_document(answer())
    assert [one["geometry"] for one in document["options"]] == [one.geometry for one in answer().options]
    assert document["options"][0]["cost"] == option().cost


def test_the_workbook_says_which_geometry_to_cast_and_how_it_is_read() -> None:
    lines = casting_lines(told())
    assert [term for term, _ in lines] == ["Cast", "Read as", "Enter", "Holds", "Not cast", "Not cast"]
    said = dict(lines)
    assert said["Cast"] == (
        "cube 100 mm alone, the cheapest that is good enough: 12 moulds, 13 L of concrete for all trial batches"
    )
    assert said["Read as"] == ("cylinder 100x200 mm: 0.800 times, standard error 0.010; 3.0 % at 16 h (30 MPa) off")
    assert "of the cube 100 mm as broken, nothing multiplied" in said["Enter"]
    assert said["Holds"].startswith("It holds from 10.0 to 50.0 MPa of the cube 100 mm")
    assert "C30/37" in said["Holds"]
    assert "engineer agrees" in said["Holds"]
    assert lines[4][1].replace("\N{NO-BREAK SPACE}", " ") == "cylinder 100x200 mm: 7.5 % off, 835 in all"
    assert lines[5][1] == "prism 100x100x400 mm: the records hold no break of it"
    assert casting_lines(invented_recommendation()) == []
    limits = ChoiceLimits(ages_h=(8.0, 16.0, 24.0), fewest_ages=3, most_ages=3, specimens_per_age=(2, 3))
    settings = Settings(target=Target(ages_h=(16.0,), tolerance=0.1), choices=limits, budget=Budget(specimens=9))
    book = load_workbook(io.BytesIO(render_workbook(told(), settings)))
    shown = [str(cell.value) for row in book["Summary"].iter_rows() for cell in row]
    assert "Which geometry to cast" in shown
    assert said["Enter"] in shown


def issued(**changed: Any) -> CurveConversion:
    """0.8 times, pairs from 10 to 50 MPa of the cube."""
    plain = CurveConversion(
        from_geometry=CUBE, to_geometry=CYLINDER, form="ratio", factor=0.8, exponent=1.0, rms=0.02,
        span_mpa=(10.0, 50.0), n_pairs=12, n_batches=4,
    )  # fmt: skip
    return replace(plain, **changed)


def test_an_issued_curve_says_what_is_broken_and_what_is_read() -> None:
    assert read_as_words(issued()) == (
        "Cast and broken: cube 100 mm. Strengths read here are those of the cylinder 100x200 mm: 0.800 times the "
        "strength broken, by 12 pairs in 4 batches. Batches left out are converted 2.0 % off, which safe readings "
        "hold."
    )
    assert "10, 15, 20, 30, 40 and 50 MPa broken count as 8.0, 12.0, 16.0, 24.0, 32.0 and 40.0" in counted_words(
        issued()
    )
    assert "as the plan states" in read_as_words(issued(span_mpa=None, form="stated factor"))
    assert span_words(issued(span_mpa=None)) == ""
    equal = issued(form="none", factor=1.0)
    assert "nothing is multiplied" in read_as_words(equal)
    assert counted_words(equal) == ""
    # 7 % of 30 MPa are 27.9, rounded down where it is a hair below
    assert "and 27.8 " in counted_words(issued(factor=0.9299, span_mpa=(20.0, 30.0)))


def test_in_us_units_no_figure_of_the_conversion_stays_behind() -> None:
    power = issued(form="power law", factor=0.5, exponent=1.1)
    with shown_in(ShownAs(units="US")):
        found = in_words(" ".join((read_as_words(power), counted_words(power), span_words(power))))
    assert "MPa" not in found
    # S = 0.5 x^1.1 in MPa is 0.5 * 145.038^-0.1 in psi
    assert f"{0.5 * 145.038**-0.1:.4g} times the strength in psi to the power 1.1000" in found
    # 0.5 * 10^1.1 = 6.29 and 0.5 * 50^1.1 = 36.97 MPa
    assert "below 910 psi or above 5,370 psi" in found
