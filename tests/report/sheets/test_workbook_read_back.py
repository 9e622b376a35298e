"""Sheets of the workbook and the page for the testing room, cell by cell against ``recommendation.json``."""

from __future__ import annotations

import datetime as dt
import io
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from statistics import fmean, stdev
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from planner.laboratory.clock.break_times import break_times
from planner.report.documents.pages.testing_room import render_testing_room
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.documents.workbook import render_workbook
from planner.terms.labels import age_label
from planner.terms.plan.settings import Laboratory
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.invented_result import invented_recommendation
from tests.report.read_back import Figure, Wanted, assert_says, page_table, percent, sheet_table
from tests.report.real_results import Made, made_from
from tests.report.sheets.test_workbook import SETTINGS

CAST_AT = dt.datetime(2027, 5, 3, 22, 0)
HOURS = r"age ([\d.]+) h"


@cache
def invented() -> Recommendation:
    """No two columns alike: the invented figures hang together, so some are set apart."""
    found = invented_recommendation()
    error = replace(found.recommended.error, within_tolerance=0.91, over_predicted_beyond_tolerance=0.06)
    return replace(found, recommended=replace(found.recommended, error=error))


def made() -> Made:
    return made_from(4, has_prices=True)


@cache
def book_of_invented() -> Workbook:
    return load_workbook(io.BytesIO(render_workbook(invented(), SETTINGS)))


@cache
def book_made() -> Workbook:
    return load_workbook(io.BytesIO(render_workbook(made().told, made().settings)))


def schedule(item: Any) -> str:
    return ", ".join(f"{age_label(age)} x{n}" for age, n in zip(item["ages_h"], item["specimens"], strict=True))


def model(item: Any) -> str:
    """Curve, weighting and the constant of its maturity."""
    setting = item["maturity"]
    constant = f"Q {setting['q_k']:g} K" if "q_k" in setting else f"datum {setting['datum_c']:g} C"
    return f"{item['curve']}, {item['weighting']}, {constant}"


def key_of(item: Any) -> tuple[str, ...]:
    return tuple(str(item[name]) for name in ("ages_h", "specimens", "curve", "weighting", "maturity"))


def shown_choices(document: Any) -> list[tuple[str, Any]]:
    """Every choice with its parts, one that plays several once."""
    named = [document[name] for name in ("recommended", "best", "enough", "customary", "equal_gain")]
    listed = [*(item for item in named if item), *document["compared"], *document["next_best"][:3]]
    parts: dict[tuple[str, ...], tuple[list[str], Any]] = {}
    for item in listed:
        labels, _ = parts.setdefault(key_of(item), ([], item))
        if item["label"] not in labels:
            labels.append(item["label"])
    return [(" = ".join(labels), item) for labels, item in parts.values()]


@pytest.mark.parametrize("name", ["invented", "made"])
def test_compared_schedules(name: str) -> None:
    advice, book = (invented(), book_of_invented()) if name == "invented" else (made().told, book_made())
    table = sheet_table(book["Compared schedules"])
    choices = shown_choices(recommendation_document(advice))

    def figure(*path: str, of: Any = percent) -> Any:
        def found(pair: Any) -> Wanted:
            value = pair[1]["error"]
            for step in path:
                value = value[step]
            return of(value)

        return found

    assert_says(
        table,
        choices,
        {
            "choice": lambda pair: pair[0] + " ~" * pair[1]["is_beaten"],
            "ages x specimens": lambda pair: schedule(pair[1]),
            "specimens": lambda pair: Figure(sum(pair[1]["specimens"]), places=0),
            "last age, h": lambda pair: Figure(max(pair[1]["ages_h"])),
            "curve, weighting, constant": lambda pair: model(pair[1]),
            "RMS error": figure("rms"),
            "bias": figure("bias"),
            "mean absolute": figure("mean_abs"),
            "95 % absolute": figure("p95_abs"),
            "inside tolerance": figure("within_tolerance", of=lambda value: percent(value, 0)),
            "over-predicted beyond it": figure(
                "over_predicted_beyond_tolerance", of=lambda value: percent(value, 0)
            ),
            "worst batch": figure("worst_batch", "batch", of=str),
            "its error": figure("worst_batch", "error"),
            "batches": lambda pair: Figure(pair[1]["n_batches"], places=0),
            "cost": lambda pair: Figure(pair[1]["cost"], places=2),
        },
    )  # fmt: skip


def test_programmes() -> None:
    document = recommendation_document(made().told)
    table = sheet_table(book_made()["Programmes"])

    def part(item: Any) -> str:
        return next(row for row in table.rows if row["each trial batch"] == schedule(item))["each trial batch"]

    assert_says(
        replace(table, headings=table.headings[:10]),
        document["programmes"],
        {
            "trial batches": lambda item: Figure(item["n_trial_batches"], places=0),
            "specimens in all": lambda item: Figure(item["n_specimens"], places=0),
            "each trial batch": part,
            "own batch RMS": lambda item: percent(item["own_batch"]["rms"]),
            "own batch inside": lambda item: percent(item["own_batch"]["within_tolerance"], 0),
            "later pour RMS": lambda item: percent(item["next_batch"]["rms"]),
            "later pour inside": lambda item: percent(item["next_batch"]["within_tolerance"], 0),
            "later pour over-predicted": lambda item: percent(
                item["next_batch"]["over_predicted_beyond_tolerance"], 0
            ),
            "cost": lambda item: Figure(item["cost"], places=2),
            "visits": lambda item: Figure(item["n_visits"], places=0),
        },
    )  # fmt: skip


def test_prices() -> None:
    """Quantities and prices; the sums are formulas, worked out in `test_workbook_calculated`."""
    estimate = recommendation_document(made().told)["estimate"]
    rows = {row[0].value: row for row in book_made()["Cost"].iter_rows(min_row=2) if row[1].value is not None}
    assert [cell.value for cell in book_made()["Cost"][1]] == ["item", "quantity", "price, EUR", "amount, EUR", "note"]
    assert list(rows) == [item["name"] for item in estimate["items"]]
    for item in estimate["items"]:
        name, quantity, price, amount, note = rows[item["name"]]
        assert quantity.value == pytest.approx(item["quantity"])
        assert price.value == pytest.approx(item["unit_price"])
        assert amount.value == f"=B{name.row}*C{name.row}"
        is_open = item["name"] in estimate["open_items"]
        assert ("no price stated" in str(note.value)) == is_open == (item["unit_price"] == 0)
    assert f"if cast {estimate['casting']}" in str(rows["visits inside laboratory hours"][4].value)


def test_summary() -> None:
    document = recommendation_document(made().told)
    taken, count = document["recommended"], document["programme"]
    said = {str(row[0]): str(row[1]) for row in book_made()["Summary"].iter_rows(values_only=True) if row[1]}
    assert said["Break"] == schedule(taken)
    assert said["Cast"].startswith(f"{sum(taken['specimens'])} specimens for breaking (budget 18)")
    assert f", {count['n_spares']} spare" in said["Cast"]
    assert f", {count['n_instrumented']} with " in said["Cast"]
    n_cast = sum(count[name] for name in ("n_schedule", "n_spares", "n_instrumented", "n_acceptance"))
    assert said["Cast"].split(": ")[1] == f"{n_cast} in all"
    assert said["Last break"].startswith(f"{age_label(max(taken['ages_h']))}, {taken['n_visits']} visits")
    assert said["Curve"].startswith(taken["curve"])
    assert Figure(taken["cost"], "EUR", 0).is_said(re.match(r"\d+ EUR", said["Cost"])[0])  # type: ignore[index]
    for caution in document["cautions"]:
        assert said[caution["code"]] == caution["text"]


def test_the_register_has_the_ages_counts_and_windows() -> None:
    """Windows in hours about each age; ASTM C39 from memory: 6 h has none of its own, 24 h half an hour each way."""
    rows = [row for row in sheet_table(book_of_invented()["Specimens"]).rows if row["purpose"] == "break"]
    document = recommendation_document(invented())["recommended"]
    wanted = [age for age, n in zip(document["ages_h"], document["specimens"], strict=True) for _ in range(n)]
    assert [float(row["age, h"]) for row in rows] == wanted
    assert [row["age"] for row in rows] == [age_label(age) for age in wanted]
    assert {row["mix"] for row in rows} == {"panel mix"}
    assert {row["geometry"] for row in rows} == {"cylinder 100x200 mm"}
    slips = {item["age_h"]: item for item in recommendation_document(invented())["slip"]["breaks"]}
    for row in rows:
        age = float(row["age, h"])
        before, after = (float(re.fullmatch(HOURS, row[name])[1]) for name in ("not before", "not after"))  # type: ignore[index]
        assert before < age < after
        assert age - before == pytest.approx(after - age)
        earlier, later = float(row["may slip earlier, h"]), float(row["may slip later, h"])
        assert 0 <= slips[age]["earlier_h"] - earlier <= max(0.05 * slips[age]["earlier_h"], 0.01)
        assert 0 <= slips[age]["later_h"] - later <= max(0.05 * slips[age]["later_h"], 0.01)
    day = next(row for row in rows if row["age"] == "1 d")
    assert (day["not before"], day["not after"]) == ("age 23.50 h", "age 24.50 h")


def expected(document: Any, age_h: float, curing: str, per_mpa: float, unit: str) -> str:
    """Mean and range of 19 of 20 batches, worked out in logarithms from the growth of the document."""
    logs = [
        math.log(point["strength_mpa"])
        for point in document["growth"]
        if (point["age_h"], point["curing"]) == (age_h, curing)
    ]
    reach = 2.0 * stdev(logs) * math.sqrt(1.0 + 1.0 / len(logs))
    usual, low, high = (per_mpa * math.exp(fmean(logs) + step) for step in (0.0, -reach, reach))
    return f"{usual:.0f} {unit} ({low:.0f} to {high:.0f} {unit})"


@pytest.mark.parametrize("is_dated", [False, True])
def test_the_testing_room(is_dated: bool) -> None:
    document = recommendation_document(invented())
    taken = document["recommended"]
    times = break_times(invented().recommended.schedule, Laboratory(time_zone="Europe/Oslo"), cast_at=CAST_AT)
    castings: Sequence[Any] = (times,) if is_dated else ()
    table = page_table(render_testing_room(invented(), SETTINGS, castings=castings), "Overnight panels")
    turns = [
        (age, "standard", n) for age, n in zip(taken["ages_h"], taken["specimens"], strict=True)
    ] + [(target["age_h"], "site", 3) for target in document["targets"]]  # fmt: skip
    wanted = []
    for age, curing, n in sorted(turns, key=lambda turn: (turn[0], turn[1] == "site")):
        for place in range(1, n + 1):
            between = "-site-" if curing == "site" else "-"
            label = f"trial-1{between}{age_label(age).replace(' ', '')}-{place}"
            wanted.append((age if place == 1 else None, curing, label))
    area_mm2 = math.pi * 100.0**2 / 4.0

    def due(item: Any) -> str:
        age = item[0]
        if age is None:
            return ""
        clock = CAST_AT + dt.timedelta(hours=age)
        return f"{clock:%a %d %b %Y %H:%M} ({age_label(age)})" if is_dated else age_label(age)

    def window(item: Any) -> str:
        age, curing, _ = item
        if age is None:
            return ""
        if curing == "site":
            return "-"
        found = next(row for row in sheet_table(book_of_invented()["Specimens"]).rows if row["age, h"] == f"{age:g}")
        before, after = (float(re.fullmatch(HOURS, found[name])[1]) for name in ("not before", "not after"))  # type: ignore[index]
        if not is_dated:
            return f"{before:.2f} to {after:.2f} h"
        clocks = [CAST_AT + dt.timedelta(hours=hours) for hours in (before, after)]
        return " to ".join(f"{clock:%a %H:%M}" for clock in clocks)

    def of(per_mpa: float, unit: str) -> Any:
        return lambda item: "" if item[0] is None else expected(document, item[0], item[1], per_mpa, unit)

    assert_says(
        table,
        wanted,
        {
            "due" if is_dated else "age": due,
            "not before, not after": window,
            "batch, curing": lambda item: "" if item[0] is None else f"trial-1, {item[1]}",
            "expected strength": of(1.0, "MPa"),
            "expected load": of(area_mm2 / 1000.0, "kN"),
            "specimen": lambda item: item[2],
            "broken at": lambda _: "",
            "load, kN": lambda _: "",
            "fracture": lambda _: "",
            "remarks": lambda _: "",
        },
    )
