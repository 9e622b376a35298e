"""The table under limits as a reader has it in a browser: every cell and count against choices.csv."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.report.documents.choices_file import write_choices
from planner.report.documents.pages.page import render_page
from planner.terms.maturity import MaturitySetting
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.schedule import Schedule
from tests.report.documents.pages.browsers import needs_browser
from tests.report.invented_result import invented_recommendation
from tests.report.read_back import Figure, ReadTable, assert_says, percent

pytestmark = needs_browser

SHOWN = 12  # rows of the table
Row = dict[str, str]  # of choices.csv, by heading


def advice() -> Recommendation:
    """Counts, curves, constants, costs, visits and shares that differ from row to row and from column to column."""
    found = invented_recommendation()
    table = found.choices
    n_rows = len(table.schedules)
    places = range(n_rows)
    at = np.arange(n_rows, dtype=np.float64)
    schedules = tuple(
        Schedule(item.ages_h, tuple(2 + (place + age) % 2 for age in range(item.n_ages)))
        for place, item in enumerate(table.schedules)
    )
    cost = np.array([400.6 + 55.0 * item.n_specimens for item in schedules])
    cost[4] = np.nan
    table = replace(
        table,
        schedules=schedules,
        curve=tuple(("exponential", "hyperbolic")[place % 2] for place in places),
        weighting=tuple(("relative", "equal")[place // 2 % 2] for place in places),
        maturity=tuple(
            MaturitySetting("equivalent age", 4000.0 + 500.0 * (place % 3), 20.0) for place in range(n_rows)
        ),
        within_tolerance=0.9 - 0.02 * (at % 30),
        over_predicted_beyond_tolerance=0.01 + 0.01 * (at % 7),
        cost=cost,
        n_visits=1 + np.arange(n_rows) % 4,
    )
    return replace(found, choices=table, recommended=replace(found.recommended, schedule=schedules[400]))


@pytest.fixture(scope="module")
def listed() -> list[Row]:
    return list(csv.DictReader(io.StringIO(write_choices(advice().choices).decode())))


@pytest.fixture
def page(browser: Any, tmp_path: Path) -> Any:
    path = tmp_path / "report.html"
    path.write_text(render_page(advice()), encoding="utf-8")
    browser.get(path.as_uri())
    return browser


def set_field(page: Any, label: str, said: str) -> None:
    """Type into the field that a reader finds under its label, or choose the option with these words."""
    page.execute_script(
        """
        const plain = (text) => text.replace(/\\u00a0/g, " ").trim();
        const label = [...document.querySelectorAll("#what-if-controls label")].find(
            (one) => plain(one.firstChild.textContent) === arguments[0]);
        const field = label.querySelector("input, select");
        field.value = field.tagName === "INPUT" ? arguments[1]
            : [...field.options].find((one) => plain(one.textContent) === arguments[1]).value;
        field.dispatchEvent(new Event("input", {bubbles: true}));
        """,
        label,
        said,
    )


def read(page: Any) -> ReadTable:
    headings, rows = page.execute_script(
        """
        const texts = (line) => [...line.children].filter((cell) => !cell.hidden).map(
            (cell) => cell.textContent.replace(/\\u00a0/g, " ").trim());
        const table = document.getElementById("what-if-table");
        return [texts(table.tHead.rows[0]), [...table.tBodies[0].rows].map(texts)];
        """
    )
    return ReadTable("What if?", tuple(headings), tuple(dict(zip(headings, row, strict=True)) for row in rows))


def pairs(row: Row) -> list[tuple[str, int]]:
    return list(zip(row["ages"].split("; "), map(int, row["specimens"].split("; ")), strict=True))


def value(cell: str) -> float | None:
    return float(cell) if cell else None


COLUMNS: dict[str, Callable[[Row], Figure | str]] = {
    "ages x specimens": lambda row: ", ".join(f"{age} x{count}" for age, count in pairs(row)),
    "n": lambda row: Figure(sum(count for _, count in pairs(row)), places=0),
    "visits": lambda row: Figure(float(row["n_visits"]), places=0),
    "RMS error": lambda row: percent(float(row["rms"])),
    "inside": lambda row: percent(float(row["within_tolerance"]), 0),
    "over": lambda row: percent(float(row["over_predicted_beyond_tolerance"]), 0),
    "cost": lambda row: Figure(value(row["cost"]), "EUR", 0),
    "curve, weighting, maturity": lambda row: (
        f"{row['curve']}, {row['weighting']}, {row['maturity'].removeprefix('equivalent age; ')}"
    ),
}


def best_of_each_set(rows: list[Row]) -> list[Row]:
    """The first row of every set of ages."""
    firsts: dict[str, Row] = {}
    for row in rows:
        firsts.setdefault(row["ages"], row)
    return list(firsts.values())[:SHOWN]


def assert_shows(page: Any, kept: list[Row], listed: list[Row]) -> None:
    """The table and the line above it say what is kept, and nothing else."""
    assert 0 < len(kept) <= len(listed)
    assert_says(read(page), best_of_each_set(kept), COLUMNS)
    status = page.execute_script("return document.getElementById('what-if-status').textContent").replace("\xa0", " ")
    recommended = listed[400]
    assert status == (
        f"{len(kept)} of {len(listed)} schedules keep these limits; the best has an RMS error of "
        f"{100 * float(kept[0]['rms']):.1f} %, the recommended one {100 * float(recommended['rms']):.1f} %."
    )


def test_without_limits(page: Any, listed: list[Row]) -> None:
    assert any(row["cost"] == "" for row in best_of_each_set(listed))
    assert_shows(page, listed, listed)


def n_of(row: Row) -> int:
    return sum(count for _, count in pairs(row))


def last_of(row: Row) -> str:
    return pairs(row)[-1][0]


def has(row: Row, age: str) -> bool:
    return age in dict(pairs(row))


ONE_LIMIT: dict[str, tuple[dict[str, str], Callable[[Row], bool]]] = {
    "specimens": ({"Most specimens": "8"}, lambda row: n_of(row) <= 8),
    "visits": ({"Most visits": "2"}, lambda row: int(row["n_visits"]) <= 2),
    "money": ({"Most money (EUR)": "785.6"}, lambda row: row["cost"] != "" and float(row["cost"]) <= 785.6),
    "latest": ({"Latest age": "2 d"}, lambda row: last_of(row) not in ("3 d", "7 d", "28 d")),
    "must": ({"6 h": "must", "3 d": "must"}, lambda row: has(row, "6 h") and has(row, "3 d")),
    "must not": ({"4 h": "must not", "8 h": "must not"}, lambda row: not (has(row, "4 h") or has(row, "8 h"))),
}


@pytest.mark.parametrize("name", ONE_LIMIT)
def test_what_stands_at_a_limit_keeps_it(page: Any, listed: list[Row], name: str) -> None:
    fields, is_kept = ONE_LIMIT[name]
    for label, said in fields.items():
        set_field(page, label, said)
    kept = [row for row in listed if is_kept(row)]
    assert len(kept) < len(listed)
    assert_shows(page, kept, listed)
