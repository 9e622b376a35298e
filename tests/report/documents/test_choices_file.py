"""choices.csv: columns by contract, one row a schedule, best score first."""

from __future__ import annotations

import csv
import dataclasses
import io
from dataclasses import replace

import numpy as np
import pytest

from planner.report.documents.choices_file import COLUMNS, _numbered, write_choices
from planner.terms.labels import age_label
from planner.terms.results.schedule_table import ScheduleTable
from planner.terms.schedule import Schedule
from tests.report.invented_result import invented_recommendation

CONTRACT = (
    "ages, specimens, n_specimens, curve, weighting, maturity, score, rms, bias, mean_abs, p95_abs, "
    "within_tolerance, over_predicted_beyond_tolerance, cost, last_age_h, n_batches, evidence, basis, n_visits"
)


def test_columns_are_those_of_the_contract() -> None:
    assert ", ".join(COLUMNS) == CONTRACT


def test_every_schedule_has_a_row_and_the_best_score_comes_first() -> None:
    table = invented_recommendation().choices
    rows = list(csv.DictReader(io.StringIO(write_choices(table).decode())))
    assert len(rows) == len(table.schedules)
    scores = [float(row["score"]) for row in rows]
    assert scores == sorted(scores)
    assert rows[0]["ages"] == "4 h; 6 h; 8 h"
    assert rows[0]["specimens"] == "2; 2; 2"
    assert rows[0]["maturity"] == "equivalent age; Q 5000 K"
    assert {row["basis"] for row in rows} == {"resampled", "closed form"}


def test_figures_read_back_as_the_table_holds_them() -> None:
    table = invented_recommendation().choices
    rows = list(csv.DictReader(io.StringIO(write_choices(table).decode())))
    for name in ("score", "rms", "bias", "mean_abs", "p95_abs"):
        assert [float(row[name]) for row in rows] == pytest.approx(getattr(table, name).tolist(), rel=5e-5)
    shares = [float(row["within_tolerance"]) for row in rows]
    assert shares == pytest.approx(table.within_tolerance.tolist(), abs=6e-5)
    for row, schedule, n_visits in zip(rows, table.schedules, table.n_visits, strict=True):
        assert row["ages"].split("; ") == [age_label(age) for age in schedule.ages_h]
        assert [int(count) for count in row["specimens"].split("; ")] == list(schedule.specimens)
        assert int(row["n_specimens"]) == schedule.n_specimens
        assert float(row["last_age_h"]) == schedule.last_age_h
        assert int(row["n_visits"]) == n_visits


def test_no_column_stands_under_another_heading() -> None:
    table = invented_recommendation().choices
    n, random = len(table.schedules), np.random.default_rng(6)
    curves, weightings = random.choice(["hyperbolic", "exponential"], n), random.choice(["equal", "by variance"], n)
    drawn = replace(
        table,
        curve=tuple(curves.tolist()),
        weighting=tuple(weightings.tolist()),
        within_tolerance=random.integers(0, 50, n) / 100,
        over_predicted_beyond_tolerance=random.integers(50, 100, n) / 100,
        cost=random.integers(100, 999, n).astype(np.float64),
        n_batches=random.integers(10, 40, n),
        n_visits=random.integers(1, 9, n),
        is_resampled=random.random(n) < 0.5,
    )
    rows = list(csv.DictReader(io.StringIO(write_choices(drawn).decode())))
    assert [row["curve"] for row in rows] == curves.tolist()
    assert [row["weighting"] for row in rows] == weightings.tolist()
    assert [row["basis"] == "resampled" for row in rows] == drawn.is_resampled.tolist()
    assert {row["basis"] for row in rows} == {"resampled", "closed form"}
    assert {row["evidence"] for row in rows} == {table.evidence}
    for name in ("within_tolerance", "over_predicted_beyond_tolerance", "cost", "n_batches", "n_visits"):
        assert [float(row[name]) for row in rows] == getattr(drawn, name).tolist()


def test_where_not_all_are_wanted_the_best_are_written() -> None:
    table = invented_recommendation().choices
    every = write_choices(table).decode().splitlines()
    assert write_choices(table, most=2).decode().splitlines() == every[:3]  # the headings before them


def test_what_is_not_finite_stays_empty() -> None:
    table = invented_recommendation().choices
    score = table.score.copy()
    score[-3:] = [np.nan, np.inf, -np.inf]
    rows = list(csv.DictReader(io.StringIO(write_choices(replace(table, score=score)).decode())))
    assert [row["score"] for row in rows[-3:]] == ["", "", ""]
    assert rows[-4]["score"] != ""


def test_unlike_schedules_share_a_table() -> None:
    advice = invented_recommendation().choices
    schedules = (Schedule((6.0,), (12,)), Schedule((6.5, 672.0), (1, 300)), Schedule((1 / 3, 6.0, 24.0), (3, 2, 3)))
    table = ScheduleTable.of(schedules)
    assert tuple(table) == schedules
    assert tuple(table[1:]) == schedules[1:]
    columns = {
        name: value[:3]
        for name in (item.name for item in dataclasses.fields(advice))
        if not isinstance(value := getattr(advice, name), str | int)
    }
    rows = list(csv.DictReader(io.StringIO(write_choices(replace(advice, **{**columns, "schedules": table})).decode())))
    assert [row["ages"] for row in rows] == ["6 h", "6.5 h; 28 d", "0.333333 h; 6 h; 1 d"]
    assert [row["specimens"] for row in rows] == ["12", "1; 300", "3; 2; 3"]
    assert [row["last_age_h"] for row in rows] == ["6", "672", "24"]


def test_no_field_needs_quoting() -> None:
    text = write_choices(invented_recommendation().choices).decode()
    assert '"' not in text
    assert all(line.count(",") == len(COLUMNS) - 1 for line in text.splitlines())


def test_a_cost_that_is_not_known_stays_empty() -> None:
    table = invented_recommendation().choices
    row = list(csv.DictReader(io.StringIO(write_choices(table).decode())))[3]
    assert row["cost"] == ""


def test_rows_alike_and_only_they_have_one_number() -> None:
    # 40 columns up to 9: as one number in base 10 they would overflow.
    random = np.random.default_rng(4)
    rows = np.repeat(random.integers(0, 10, (300, 40)), 2, axis=0).astype(np.int16)
    numbers = _numbered(rows)
    assert len(np.unique(numbers)) == len(np.unique(rows, axis=0)) == 300
    assert np.array_equal(numbers[::2], numbers[1::2])
