"""Every cell of the rarer tables under its own heading: mortar, conversion, site range, limits, family, records."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace
from functools import cache

import pytest

from planner.evidence.record_summary import tell_story
from planner.laboratory.clock.break_times import break_times
from planner.report.accounts.brief_account import brief_account
from planner.report.accounts.clock.clock_account import clock_account
from planner.report.accounts.family_account import family_account
from planner.report.accounts.full_account import recommendation_account
from planner.report.accounts.geometries.conversion_account import conversion_sections
from planner.report.accounts.parts.comparison import comparison_table
from planner.report.accounts.parts.constants_account import constants_section
from planner.report.accounts.parts.constraint_table import constraint_table
from planner.report.accounts.parts.drawn_account import temperature_section
from planner.report.accounts.parts.mortar_account import mortar_section
from planner.report.accounts.parts.programme_account import estimate_section
from planner.report.accounts.parts.waiting_account import waiting_section
from planner.report.accounts.records_account import story_account
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.text.blocks import Section, Table
from planner.terms.labels import schedule_label
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.mortar import MortarConstant, MortarConstants, MortarRate
from planner.terms.plan.settings import Laboratory
from planner.terms.results.constants import AtConstant, Constants, ConstantsOfMethod, HoursUnder
from planner.terms.results.drawn_figures import TemperatureRow
from planner.terms.results.minimum.family_figures import (
    Envelope,
    FamilyAnswer,
    FamilyRow,
    FamilyRule,
    LeftOutMix,
    MemberUnderRule,
)
from planner.terms.results.minimum.minimum_figures import ConstraintPrice
from planner.terms.results.waiting import HoursAt, Wait, Waiting
from planner.terms.schedule import Schedule
from tests.report.accounts.test_story import RECORDS
from tests.report.accounts.test_tables_by_heading import by_heading
from tests.report.invented_geometries import conversion
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from

Row = dict[str, str]


def table_with(sections: Iterable[Section], heading: str) -> list[Row]:
    """The one table that has this heading."""
    tables = [block for section in sections for block in section.blocks if isinstance(block, Table)]
    (found,) = [table for table in tables if heading in [column.heading for column in table.columns]]
    return by_heading(found)


def test_rates_of_mortar() -> None:
    rate = MortarRate(
        temperature_c=8.0, n_cubes=18, n_ages=6, ultimate_mpa=41.3, rate_per_d=0.2438, rate_se=0.052, offset_h=9.7
    )
    line = MortarConstant(value=5000.0, standard_error=120.0, least=4700.0, most=5300.0, is_on_a_line=True, taken=None)
    section = mortar_section(MortarConstants(file="mortar.csv", rates=(rate,), q_k=line, datum_c=line))
    assert table_with((section,), "k, per day") == [
        {
            "cured at, C": "8", "cubes": "18", "ages": "6", "k, per day": "0.2438", "standard error, %": "5.2",
            "t0, h": "9.7", "Su, MPa": "41.3",
        }
    ]  # fmt: skip


def test_strengths_converted_and_what_is_left_at_each_age() -> None:
    sections = conversion_sections((conversion(),))
    strengths = ["broken, MPa", "read, MPa", "from, MPa", "to, MPa"]
    assert table_with(sections, "from, MPa") == [
        dict(zip(strengths, ("10.0", "8.0", "7.5", "8.6"), strict=True)),
        dict(zip(strengths, ("50.0", "40.0", "37.3", "42.9"), strict=True)),
    ]
    assert table_with(sections, "left, %") == [
        {"age": "16 h", "batches": "4", "left, %": "-1.2", "standard error, %": "0.7"},
        {"age": "1 d", "batches": "1", "left, %": "+3.0", "standard error, %": "-"},
    ]


def test_errors_over_the_temperatures_of_the_site() -> None:
    row = TemperatureRow(
        target_age_h=24.0, temperature_c=12.5, bias=-0.021, rms=0.083, low_05=-0.152, high_95=0.117,
        within_tolerance=0.74, over_predicted_beyond_tolerance=0.09,
    )  # fmt: skip
    section = temperature_section(replace(invented_recommendation(), by_temperature=(row,)))
    assert table_with((section,), "9 in 10 lie within") == [
        {
            "target": "1 d", "mean, C": "12.5", "bias": "-2.1 %", "RMS error": "8.3 %",
            "9 in 10 lie within": "-15.2 % to +11.7 %", "inside": "74 %", "over": "9 %",
        }
    ]  # fmt: skip


def test_hours_under_the_constants_that_are_about_as_good() -> None:
    hours = HoursUnder(age_h=24.0, temperature_c=8.0, lowest_h=41.2, chosen_h=45.6, highest_h=None)
    points = tuple(AtConstant(constant=q, own_rms=0.04, later_rms=0.1, by_condition=()) for q in (4000.0, 6000.0))
    method = ConstantsOfMethod(method="equivalent age", points=points, about_as_good=(4000.0, 6000.0), hours=(hours,))
    study = Constants(
        chosen=MaturitySetting("equivalent age", 5000.0, 20.0), conditions=(), judged_on="later pour",
        immaterial=0.0025, methods=(method,),
    )  # fmt: skip
    section = constants_section(replace(invented_recommendation(), constants=study))
    assert table_with((section,), "concrete, C") == [
        {"target": "1 d", "concrete, C": "8", "4000 K, h": "41.2", "5000 K (recommended), h": "45.6", "6000 K, h": "-"}
    ]


def test_what_each_constraint_asks_for() -> None:
    price = ConstraintPrice(
        name="28 d required", rms=0.071, rms_more=0.013, fewest_specimens=12, specimens_more=4, cost_more=316.0
    )
    free = replace(price, name="no gap", rms_more=0.0001, specimens_more=0, cost_more=0.0)
    none = ConstraintPrice(
        name="1 visit", rms=None, rms_more=None, fewest_specimens=None, specimens_more=None, cost_more=None
    )
    headings = ["constraint", "lowest error", "more than without", "fewest specimens", "more", "cost it adds"]
    wanted = [
        ("28 d required", "7.1 %", "+1.3 %", "12", "+4", "+316 EUR"),
        ("no gap", "7.1 %", "none seen", "12", "0", "0 EUR"),
        ("1 visit", "cannot be kept", "-", "-", "-", "-"),
    ]
    found = by_heading(constraint_table((price, free, none), replace(invented_recommendation(), currency="EUR")))
    assert found == [dict(zip(headings, row, strict=True)) for row in wanted]


OF_ALL = FamilyRule(Schedule((6.0, 24.0), (3, 2)), 1)
OWN = FamilyRule(Schedule((6.0, 24.0), (2, 2)), 1)
OTHERS = FamilyRule(Schedule((8.0, 24.0), (4, 2)), 2)


@cache
def family() -> FamilyAnswer:
    """One plan, a rule that costs it a specimen more, and the rule of the others held against it."""
    row = FamilyRow(
        plan="a.toml", exit=0, mix="mix A", targets="1 d", tolerance=0.12, assurance=0.85, evidence="measured",
        judged_on="later pour", is_kept=True, own=OWN, rms=0.067, within_tolerance=0.93, cost=512.0, currency="EUR",
    )  # fmt: skip
    member = MemberUnderRule(
        plan="a.toml", mix="mix A", is_offered=True, is_kept=True, rms=0.073, own=OWN, own_rms=0.067, specimens_more=1,
        cost_more=61.0, currency="EUR",
    )  # fmt: skip
    left_out = LeftOutMix(plan="a.toml", mix="mix A", rule=OTHERS, is_kept=False, rms=0.141)
    envelope = Envelope(
        target="1 d", age_h=24.0, rule=OF_ALL, n_common=3, members=(member,), left_out=(left_out,), shares=(),
        worst_mix="mix W", worst_loss=0.006, unkept=(), latest_set_h=2.0, temperature_c=None,
    )  # fmt: skip
    return FamilyAnswer(rows=(row,), together=envelope, no_envelope_because="", targets=(envelope,), clause=None)


@pytest.mark.parametrize(
    ("heading", "wanted"),
    [
        (
            "wanted",
            {"plan": "a.toml", "mix": "mix A", "target": "1 d", "within": "12 %", "wanted": "85 %",
             "evidence": "measured"},
        ),
        (
            "kept for",
            {"target": "1 d", "breaks for all mixes": "6 h x3, 1 d x2", "kept for": "1 of 1", "worst mix": "mix W",
             "its loss": "+0.6 %"},
        ),
        (
            "at least",
            {"plan": "a.toml", "kept": "yes", "at least": "6 h x2, 1 d x2", "n": "4", "RMS error": "6.7 %",
             "inside": "93 %", "cost": "512 EUR"},
        ),
        (
            "specimens more",
            {"mix": "mix A", "kept": "yes", "RMS under the rule": "7.3 %", "its own fewest": "6 h x2, 1 d x2",
             "its own RMS": "6.7 %", "specimens more": "+1", "cost more": "+61 EUR"},
        ),
        (
            "kept for it",
            {"left out": "mix A", "rule of the others": "2 trial batches of 8 h x4, 1 d x2", "kept for it": "NO",
             "RMS error": "14.1 %"},
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)  # fmt: skip
def test_a_family_of_mixes(heading: str, wanted: dict[str, str]) -> None:
    (row,) = table_with(family_account(family()), heading)
    row.pop("not when", None)  # a sentence, held by the tests of its words
    assert row == wanted


def test_records_that_were_read() -> None:
    sections = story_account(tell_story(RECORDS))
    same = {"mix": "mix", "geometry": "cylinder 100x200 mm"}
    assert [{name: row[name] for name in same} for row in table_with(sections, "breaks each")] == [same] * 3
    batches = table_with(sections, "breaks each")
    assert [(row["batch"], row["ages (specimens)"], row["breaks each"]) for row in batches] == [
        ("A", "site: 1 d (1); standard: 1 d (2), 3 d (1)", "4"),
        ("B", "standard: 1 d (3), 3 d (1)", "4"),
        ("C", "standard: 1 d (1)", "1"),
    ]
    grown = [(row["batch"], row["youngest"], row["oldest"]) for row in table_with(sections, "youngest")]
    assert grown == [
        ("A", "10.0 MPa at 1 d", "20.0 MPa at 3 d"),
        ("B", "11.0 MPa at 1 d", "21.0 MPa at 3 d"),
        ("C", "12.0 MPa at 1 d", "12.0 MPa at 1 d"),
    ]
    # A (9, 11) and B (10, 10, 13): squares of 2/100 and 3/121 of 1 and 2 degrees of freedom
    cv = ((0.02 + 2 * 3 / 121) / 3) ** 0.5
    assert table_with(sections, "within-test CV") == [
        {"age": "1 d", "sets": "2", "specimens": "5", "within-test CV": f"{100 * cv:.1f} %"}
    ]
    assert table_with(sections, "mean, C") == [
        {
            "batch": "A",
            "curing": "standard",
            "readings": "3",
            "span": "0 to 2 h",
            "C": "20.0 to 20.0",
            "mean, C": "20.0",
        },
        {"batch": "A", "curing": "site", "readings": "3", "span": "0 to 2 h", "C": "10.0 to 20.0", "mean, C": "15.0"},
    ]


def test_breaks_on_the_clock() -> None:
    """Cast on a Monday at 22:00: 6 h is due at 04:00, outside hours, and takes 15 minutes about it."""
    advice = replace(invented_recommendation(), slip=None)
    hours = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo")
    times = break_times(Schedule((6.0, 24.0), (3, 2)), hours, cast_at=dt.datetime(2027, 3, 1, 22, 0))
    first, second = table_with(clock_account((times,), advice), "not before")
    minutes = 3 * hours.minutes_per_break / 2
    start = dt.datetime(2027, 3, 2, 4, 0) - dt.timedelta(minutes=minutes)
    assert first == {
        "age": "6 h", "specimens": "3", "start": f"{start:%a %d %b %H:%M}", "not before": "03:52", "not after": "04:07",
        "hours": "outside",
    }  # fmt: skip
    assert (second["age"], second["specimens"], second["hours"]) == ("1 d", "2", "outside")
    assert (second["not before"], second["not after"]) == ("21:30", "22:30")


def test_lines_of_an_estimate() -> None:
    advice = made_from(4, has_prices=True).told
    estimate = recommendation_document(advice)["estimate"]
    rows = {row["item"]: row for row in table_with((estimate_section(advice),), "amount")}
    priced = [item for item in estimate["items"] if item["quantity"] and item["quantity"] > 1 and item["amount"]]
    assert priced
    for item in priced:
        row = rows[item["name"]]
        assert float(row["number"]) == item["quantity"]
        assert float(row["price"]) == pytest.approx(item["unit_price"], abs=5e-5)
        assert float(row["amount"]) == pytest.approx(item["quantity"] * item["unit_price"], abs=0.0051)


def test_other_schedules_on_the_first_screen_and_in_full() -> None:
    told = invented_recommendation()
    error = replace(told.recommended.error, within_tolerance=0.91, over_predicted_beyond_tolerance=0.06)
    advice = replace(told, recommended=replace(told.recommended, error=error))
    choice = recommendation_document(advice)["recommended"]
    figures, ages = choice["error"], schedule_label(Schedule(tuple(choice["ages_h"]), tuple(choice["specimens"])))
    short = next(row for row in table_with(brief_account(advice), "worst") if row["choice"].startswith("recommended"))
    rows = table_with(recommendation_account(advice), "worst batch")
    full = next(row for row in rows if row["choice"].startswith("recommended"))
    for row, rms in ((short, "RMS"), (full, "RMS error")):
        assert row["n"] == str(choice["n_specimens"])
        assert row[rms].startswith(f"{100 * figures['rms']:.1f} %")
        assert (row["inside"], row["over"]) == ("91 %", "6 %")
    worst = figures["worst_batch"]
    assert short["worst"] == f"{100 * worst['error']:+.1f} %"
    assert full["worst batch"].startswith(f"{100 * worst['error']:+.1f} %")
    assert full["ages x specimens"].replace("\xa0", " ").startswith(ages)


def test_marks_and_notes_of_the_compared_schedules() -> None:
    """One judged on fewer batches than the records have, the other read outside its ages; the same curve for both."""
    told = invented_recommendation()
    few = replace(told.recommended, n_batches=told.evidence.n_batches - 1, is_extrapolating=False)
    outside = replace(told.best, is_extrapolating=True, n_batches=told.evidence.n_batches)
    table = comparison_table(told, choices=(few, outside), n_marked=1)
    first, second = by_heading(table)
    assert f" ({few.n_batches} of {told.evidence.n_batches} batches)" in first["choice"]
    assert "batches" not in second["choice"]
    assert [row["ages x specimens"].endswith(" ^") for row in (first, second)] == [False, True]
    assert "inside: share of batches within 10.0 %; over: share over-predicted beyond it." in table.note
    assert "RMS error: own batch, against true strength." in table.note
    setting = few.maturity
    assert f"All of them with their best curve: {few.curve}, {few.weighting}, " in table.note
    assert f" {setting.constant:g} " in table.note


def test_hours_until_a_strength_is_there() -> None:
    hours = HoursAt(temperature_c=8.0, earliest_h=31.2, likely_h=38.4, safe_h=47.6)
    wait = Wait(
        strength_mpa=20.0, age_h=24.0, n_batches=4, left_out=(), left_out_elsewhere=(), interpolation_rms=None,
        own_rms_h=None, later_rms_h=None, hours=(hours,),
    )  # fmt: skip
    answer = Waiting(waits=(wait,), reference_c=20.0, n_curves=4, safe_factor=None, assurance=0.9, growth=())
    section = waiting_section(replace(invented_recommendation(), waiting=answer))
    assert table_with((section,), "likely, h") == [
        {"strength": "20 MPa", "concrete, C": "8", "earliest, h": "31.2", "likely, h": "38.4", "safe, h": "47.6"}
    ]
