"""choices.csv: columns by contract, one row a schedule, best score first."""

from __future__ import annotations

import csv
import io

from planner.report.choices_file import COLUMNS, choice_rows, write_choices

from .invented_result import invented_recommendation

CONTRACT = (
    "ages, specimens, n_specimens, curve, weighting, maturity, score, rms, bias, mean_abs, p95_abs, "
    "within_tolerance, over_predicted_beyond_tolerance, cost, last_age_h, n_batches, evidence, basis"
)


def test_columns_are_those_of_the_contract() -> None:
    assert ", ".join(COLUMNS) == CONTRACT


def test_every_schedule_has_a_row_and_the_best_score_comes_first() -> None:
    table = invented_recommendation().choices
    rows = list(csv.DictReader(io.StringIO(write_choices(table))))
    assert len(rows) == len(table.schedules)
    scores = [float(row["score"]) for row in rows]
    assert scores == sorted(scores)
    assert rows[0]["ages"] == "4 h; 6 h; 8 h"
    assert rows[0]["specimens"] == "2; 2; 2"
    assert rows[0]["maturity"] == "equivalent age; Q 5000 K; reference 20 C"
    assert {row["basis"] for row in rows} == {"resampled", "closed form"}


def test_no_field_needs_quoting() -> None:
    text = write_choices(invented_recommendation().choices)
    assert '"' not in text
    assert all(line.count(",") == len(COLUMNS) - 1 for line in text.splitlines())


def test_a_cost_that_is_not_known_stays_empty() -> None:
    table = invented_recommendation().choices
    row = list(csv.DictReader(io.StringIO(write_choices(table))))[3]
    assert row["cost"] == ""
    assert list(choice_rows(table))[3][COLUMNS.index("cost")] is None
