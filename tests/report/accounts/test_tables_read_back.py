"""Tables of the longer accounts read by heading and row, against the JSON documents."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.issued_curve.calibration.issue import Issue
from planner.report.accounts.after_casting.curve_account import curve_account
from planner.report.accounts.after_casting.pour_account import pour_account
from planner.report.accounts.minimum_account import minimum_account
from planner.report.accounts.parts.sample_size_account import enough_section
from planner.report.documents.values.curve_document import curve_document
from planner.report.documents.values.minimum_document import minimum_document
from planner.report.documents.values.pour_document import pour_document
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.text import words
from planner.report.text.blocks import Section, Table
from tests.after_casting.test_read_pour import FOUR_HOURS, answer_of, record
from tests.issued_curve.trial_files import issued
from tests.report.drawn_values import number
from tests.report.invented_answers import invented_minimum
from tests.report.real_results import made_from

Row = dict[str, str]


def rows_under(sections: Iterable[Section], *headings: str) -> list[Row]:
    """Rows of the first table that has these headings, by heading."""
    for section in sections:
        for block in section.blocks:
            if isinstance(block, Table):
                names = [column.heading for column in block.columns]
                if set(headings) <= set(names):
                    return [dict(zip(names, row, strict=True)) for row in block.rows]
    raise AssertionError(f"no table with {headings}")


def shows(cell: str, value: float | None, *, within: float) -> bool:
    """Whether a cell gives a value, to the digits that it is written with; a dash where there is none."""
    if value is None:
        return not any(letter.isdigit() for letter in cell)
    return number(cell) == pytest.approx(value, abs=within * 1.02)


@pytest.fixture(scope="module")
def issue(tmp_path_factory: pytest.TempPathFactory) -> Issue:
    return issued(tmp_path_factory.mktemp("issued"), "T1")


def test_strengths_and_safe_readings_of_an_issued_curve(issue: Issue) -> None:
    document = curve_document(issue)
    account = curve_account(issue)
    targets = rows_under(account, "target, standard-cured", "strength read, MPa", "safe reading, MPa")
    listed = [
        rows_under((Section("", (block,)),), "strength read, MPa")
        for section in account
        for block in section.blocks
        if isinstance(block, Table) and len(block.columns) == 3 and block.columns[1].heading == "strength read, MPa"
    ]
    for found, wanted in ((targets, document["readings"]), (listed[0], document["table"])):
        assert len(found) == len(wanted) > 0
        for row, item in zip(found, wanted, strict=True):
            assert shows(row["strength read, MPa"], item["strength_mpa"], within=0.05)
            assert shows(row["safe reading, MPa"], item["safe_mpa"], within=0.1)
            if item["safe_mpa"] is not None:
                assert number(row["safe reading, MPa"]) <= item["safe_mpa"] + 1e-9
    assert any(item["safe_mpa"] is not None for item in document["table"])


def test_hours_that_a_strength_is_waited_for(issue: Issue) -> None:
    hours = curve_document(issue)["hours"]
    found = rows_under(curve_account(issue), "earliest, h", "likely, h", "safe, h")
    assert len(found) == len(hours) > 0
    for row, item in zip(found, hours, strict=True):
        assert shows(row["strength, MPa"], item["strength_mpa"], within=0.005)
        assert shows(row["concrete, C"], item["temperature_c"], within=0.5)
        assert shows(row["earliest, h"], item["earliest_h"], within=0.05)
        assert shows(row["likely, h"], item["likely_h"], within=0.05)
        assert shows(row["safe, h"], item["safe_h"], within=0.1)
        if item["safe_h"] is not None:
            assert number(row["safe, h"]) >= item["safe_h"] - 1e-9
    assert any(item["earliest_h"] is not None and item["earliest_h"] < item["likely_h"] for item in hours)


def test_a_pour_beside_its_curve(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *FOUR_HOURS, site=record(25.0))
    document = pour_document(answer)
    rows = rows_under(pour_account(answer), "read at", "curve alone, MPa", "this pour, MPa", "safe reading, MPa")
    wanted = document["readings"]
    assert len(rows) == len(wanted) > 0
    for row, item in zip(rows, wanted, strict=True):
        assert shows(row["curve alone, MPa"], item["curve_mpa"], within=0.05)
        assert shows(row["this pour, MPa"], item["strength_mpa"], within=0.05)
        assert shows(row["safe reading, MPa"], item["safe_mpa"], within=0.1)


def test_the_least_for_every_target() -> None:
    answer = invented_minimum()
    document = minimum_document(answer)
    listed = [document["together"], *(document["targets"] if len(document["targets"]) > 1 else ())]
    rows = rows_under(minimum_account(answer), "keeps it", "at least", "inside", "lower 95 %")
    assert len(rows) == len(listed)
    for row, target in zip(rows, listed, strict=True):
        _check_programme(row, target["fewest"] or target["nearest"])
        assert row["keeps it"] == ("yes" if target["leasts"] else "NO")


def _check_programme(row: Row, programme: Any) -> None:
    later = programme["next_batch"]
    assert later is not None
    assert number(row["n"]) == programme["n_specimens"]
    assert shows(row["RMS error"], later["rms"], within=0.0005)
    assert shows(row["inside"], later["within_tolerance"], within=0.01)
    assert shows(row["lower 95 %"], later["within_tolerance_lower_95"], within=0.01)
    assert later["within_tolerance_lower_95"] != later["within_tolerance"]


def test_programmes_and_the_ladder_of_counts() -> None:
    made = made_from(4, has_prices=True).told
    assert made.sufficiency is not None
    bounded = tuple(
        replace(step, within_tolerance_lower_95=step.within_tolerance / 2 - 0.01 * place)  # so few batches give none
        for place, step in enumerate(made.sufficiency.steps)
    )
    found = replace(made, sufficiency=replace(made.sufficiency, steps=bounded))
    document = recommendation_document(found)
    section = enough_section(found)
    for row, item in zip(
        rows_under((section,), "trial batches", "later pour RMS", "own batch RMS"), document["programmes"], strict=False
    ):
        assert number(row["trial batches"]) == item["n_trial_batches"]
        assert number(row["specimens in all"]) == item["n_specimens"]
        assert shows(row["own batch RMS"], item["own_batch"]["rms"], within=0.0005)
        assert shows(row["later pour RMS"], item["next_batch"]["rms"], within=0.0005)
        assert shows(row["inside"], item["next_batch"]["within_tolerance"], within=0.01)
        assert shows(row["EUR"], item["cost"], within=0.5)
    steps = {step.most_specimens: step for step in bounded}
    rows = rows_under((section,), "specimens at most", "inside", "lower 95 %")
    assert rows
    for row in rows:
        step = steps[int(number(row["specimens at most"]))]
        assert shows(row["RMS error"], step.rms, within=0.0005)
        assert shows(row["inside"], step.within_tolerance, within=0.01)
        assert shows(row["lower 95 %"], step.within_tolerance_lower_95, within=0.01)


@given(value=st.floats(1.0, 9.0))
def test_a_factor_is_never_rounded_to_the_dangerous_side(value: float) -> None:
    shown = float(words.factor(value))
    assert value - 1e-9 <= shown < value + 0.01


@pytest.mark.parametrize(("value", "text"), [(1.234, "1.24"), (1.231, "1.24"), (1.23, "1.23"), (1.2, "1.20")])
def test_a_factor_by_hand(value: float, text: str) -> None:
    assert words.factor(value) == text
    assert words.factor(None) == words.NONE
    assert words.factor(math.inf) == words.NONE
