"""The sheet that a crew holds and the testing room's page, read back part by part."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest

from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.rules.rule_words import NO_LIMITS, lasting_words
from planner.laboratory.clock.break_times import break_times
from planner.report.accounts.after_casting.curve_account import HOURS_NOTE
from planner.report.documents.pages.curve_sheet import LOGGER_RULES, SENSOR_RULES, render_curve_sheet
from planner.report.documents.pages.testing_room import render_testing_room
from planner.report.text.conversion_words import counted_words, read_as_words
from planner.report.text.curve_status_words import curve_alarm_words
from planner.report.text.curve_words import rests_on_words, valid_words
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Laboratory
from tests.issued_curve.trial_files import issued
from tests.issued_curve.wording.test_issue_cautions import BY_PAIRS
from tests.report.documents.pages.test_page_blocks import Part, parts_of, plain
from tests.report.invented_result import invented_recommendation
from tests.report.read_back import page_tables
from tests.report.sheets.test_workbook import SETTINGS


@pytest.fixture(scope="module")
def issue(tmp_path_factory: pytest.TempPathFactory) -> Issue:
    return issued(tmp_path_factory.mktemp("issued"), "T1")


def leaf(issue: Issue) -> list[Part]:
    page = render_curve_sheet(issue).split('<div class="laboratory">')[0]
    return parts_of(page[page.index("<main>") :])


def test_what_stands_on_the_back(issue: Issue) -> None:
    found = leaf(issue)
    assert ("facts", [(plain(term), plain(said)) for term, said in valid_words(issue.curve)]) in found
    for rules in (SENSOR_RULES, LOGGER_RULES):
        assert ("bullets", [plain(rule) for rule in rules]) in found
    assert ("paragraph", plain(HOURS_NOTE)) in found
    per_check = issue.curve.promise.companions_per_check
    assert f"Site checks: {per_check} companions cured" in " ".join(part[1] for part in found if part[0] == "heading")
    assert ("paragraph", plain(f"S in MPa, t in h. Rests on {rests_on_words(issue)}.")) in found
    assert issue.cautions
    beside = f"{len(issue.cautions)} cautions on this calibration stand in the laboratory's part of the file."
    assert found.count(("bullets", [*map(plain, issue.standing_cautions), beside])) == 1
    assert ("paragraph", plain(NO_LIMITS)) not in found


def test_hours_of_a_factor_are_hours_at_its_reference(issue: Issue) -> None:
    by_factor = replace(issue.curve, maturity=MaturitySetting("temperature-time", -2.0, 23.0))
    said = [part[1] for part in leaf(replace(issue, curve=by_factor)) if part[0] == "paragraph"]
    assert any(text.startswith("S in MPa, t in h at 23 C. Rests on ") for text in said)


def test_the_lasting_rule_with_its_chances_of_an_alarm(issue: Issue) -> None:
    assert issue.check_sd is not None
    assert issue.alarms is not None
    said = f"Lasting. {lasting_words(sd=issue.check_sd)} {curve_alarm_words(issue.curve, issue.alarms)}"
    assert ("paragraph", plain(said)) in leaf(issue)
    assert ("paragraph", plain(NO_LIMITS)) in leaf(replace(issue, check_sd=None))


def test_companions_that_find_no_room(issue: Issue) -> None:
    assert issue.acceptance is not None
    checks = issue.acceptance.checks
    many = replace(issue, acceptance=replace(issue.acceptance, checks=(checks * 7)[:7]))
    assert ("paragraph", "3 more in the laboratory's part.") in leaf(many)


def test_a_curve_by_pairs_says_what_it_reads(issue: Issue) -> None:
    found = leaf(replace(issue, curve=replace(issue.curve, conversion=BY_PAIRS)))
    assert found.count(("paragraph", plain(read_as_words(BY_PAIRS)))) == 1
    assert found.count(("paragraph", plain(counted_words(BY_PAIRS)))) == 1


@pytest.mark.parametrize("is_dated", [False, True])
def test_the_testing_room(is_dated: bool) -> None:
    advice = invented_recommendation()
    cast_at = dt.datetime(2027, 3, 1, 22, 0)
    times = break_times(advice.recommended.schedule, Laboratory(time_zone="Europe/Oslo"), cast_at=cast_at)
    page = render_testing_room(advice, SETTINGS, castings=(times,) if is_dated else ())
    (table,) = page_tables(page)
    assert table.headings == (
        "due" if is_dated else "age", "not before, not after", "batch, curing", "expected strength", "expected load",
        "specimen", "broken at", "load, kN", "fracture", "remarks",
    )  # fmt: skip
    firsts = [row for row in table.rows if row["batch, curing"]]
    for row in firsts:
        assert re.fullmatch(r"\d+ MPa( \(\d+ to \d+ MPa\))?", row["expected strength"]), row
        assert re.fullmatch(r"\d+ kN( \(\d+ to \d+ kN\))?", row["expected load"]), row
        assert not any(row[entry] for entry in ("broken at", "load, kN", "fracture", "remarks"))
        strength, load = (float(row[name].split()[0]) for name in ("expected strength", "expected load"))
        assert load == pytest.approx(strength * 7.854, abs=0.5 + 0.5 * 7.854)  # 100 mm across: 7854 mm2
    parts = parts_of(page)
    assert ("paragraph", f"{advice.valid_for.mix}, {advice.valid_for.geometry}") in parts
    (note,) = [part[1] for part in parts if part[0] == "note"]
    assert "mean of the earlier batches" in note
    assert "the range of 19 of 20 batches" in note  # two standard deviations on either side
