"""The choices that the page embeds."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np

from planner.report.documents.pages.page import render_page
from planner.report.documents.pages.what_if import MOST_ROWS, PER_CORNER, embedded_json, kept_rows, what_if_data
from planner.terms.schedule import Schedule
from tests.report.invented_result import invented_recommendation


def test_rows_come_best_first_and_say_what_the_table_says() -> None:
    advice = invented_recommendation()
    data = what_if_data(advice)
    first, table = data["rows"][0], advice.choices
    assert [data["ages"][place]["age_h"] for place in first[0]] == list(table.schedules[0].ages_h)
    assert first[1] == list(table.schedules[0].specimens)
    assert data["models"][first[2]] == "exponential, relative, Q 5000 K"
    assert first[3] == round(float(table.rms[0]), 5)
    assert data["rows"][3][6] is None
    assert [row[8] for row in data["rows"]] == [int(visits) for visits in table.n_visits]
    assert len(data["rows"]) == len(table.schedules)


def test_a_large_search_keeps_something_for_every_limit() -> None:
    advice = invented_recommendation()
    n_rows = 20_000
    late, early = Schedule((6.0, 672.0), (3, 3)), Schedule((6.0, 24.0), (2, 2))
    schedules = (late,) * (n_rows - 10) + (early,) * 10  # the small early ones score worst
    table = replace(advice.choices, schedules=schedules, score=np.arange(n_rows, dtype=float))
    table = replace(table, n_visits=np.where(np.arange(n_rows) == n_rows - 1, 1, 2))
    kept = kept_rows(table)
    assert kept[:MOST_ROWS] == list(range(MOST_ROWS))
    assert kept[MOST_ROWS:] == [*range(n_rows - 10, n_rows - 10 + PER_CORNER), n_rows - 1]


def test_embedded_json_cannot_end_its_element() -> None:
    hostile = {"name": "</script><!--<script>alert(1)\u2028&"}
    text = embedded_json(hostile)
    assert "<" not in text
    assert ">" not in text
    assert "&" not in text
    assert text.isascii()
    assert json.loads(text) == hostile


def test_the_recommended_schedule_is_held_against_the_rows_with_the_error_of_its_own_row() -> None:
    plain = invented_recommendation()
    place = 2
    found = replace(plain, recommended=replace(plain.recommended, schedule=plain.choices.schedules[place]))
    assert what_if_data(found)["recommended"]["rms"] == round(float(found.choices.rms[place]), 5)
    doubled = replace(found, choices=replace(found.choices, rms=2.0 * found.choices.rms))
    here = f"{200 * float(found.choices.rms[place]):.1f}"
    text = render_page(doubled).replace("\u00a0", " ")
    assert f"the recommended one reads {here} % here" in text
