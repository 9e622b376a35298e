"""The estimate as page and workbook, table by table against ``price.json``: every heading, every row, every value."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from openpyxl import load_workbook

from planner.report.accounts.price.price_account import price_account
from planner.report.documents.estimate_workbook import render_estimate_workbook
from planner.report.documents.pages.estimate_page import render_estimate
from planner.report.documents.values.price_document import price_document
from planner.terms.labels import age_label
from planner.terms.results.answers import PriceAnswer
from planner.terms.results.price_parts import Stage
from planner.terms.schedule import Schedule
from tests.report.documents.test_estimate_documents import answer
from tests.report.invented_answers import invented_point
from tests.report.read_back import Figure, ReadTable, assert_says, page_table, percent, sheet_table
from tests.report.real_results import made_from


@cache
def priced() -> PriceAnswer:
    """No two columns of a table alike, so that two of them exchanged are seen."""
    found = answer()
    middle = Stage(age_h=18.0, n_ages=3, own_rms=0.07, later_rms=None)
    first, second = found.alternatives
    gains = tuple(
        replace(gain, n_now=4 + place, cost=61.0 + place, rms_now=0.0512, rms_then=0.0433 - 0.002 * place)
        for place, gain in enumerate(found.gains)
    )
    losses = tuple(
        replace(gain, n_now=7 + place, cost=-71.0 - place, rms_now=0.0512, rms_then=0.0555 + 0.001 * place,
                is_allowed=place == 1)
        for place, gain in enumerate(found.gains)
    )  # fmt: skip
    few, more = Schedule((6.0, 24.0), (3, 3)), Schedule((6.0, 12.0, 24.0), (5, 2, 2))
    by_cost = (invented_point(810.0, few, 0.071, 810.0), invented_point(1020.0, more, 0.052, 1020.0))
    by_specimens = (invented_point(6.0, few, 0.073, 830.0), invented_point(9.0, more, 0.054, 1040.0))
    return replace(
        found,
        recommendation=replace(found.recommendation, spending=made_from(4, has_prices=True).told.spending),
        alternatives=(replace(first, stages=(first.stages[0], middle, first.stages[-1])), second),
        gains=gains,
        losses=losses,
        by_cost=tuple(replace(p, within_tolerance=0.87, later_rms=0.113) for p in by_cost),
        by_specimens=tuple(replace(p, within_tolerance=0.88, later_rms=0.114) for p in by_specimens),
    )


@cache
def document() -> Any:
    return price_document(priced())


def on_page(over: str) -> ReadTable:
    return page_table(render_estimate(priced(), price_account(priced())), over)


def schedule(item: Any) -> str:
    return ", ".join(f"{age_label(age)} x{n}" for age, n in zip(item["ages_h"], item["specimens"], strict=True))


def euros(value: float | None) -> Figure:
    return Figure(value, "EUR", 0)


def cents(value: float | None) -> Figure:
    return Figure(value, places=None if value is None or value == round(value) else 2)


def later(item: Any) -> Any:
    return item["next_batch"]


def test_programmes() -> None:
    assert_says(
        on_page("Later-pour error against money"),
        document()["recommendation"]["programmes"],
        {
            "": lambda item: (
                ">" if item == document()["recommendation"]["recommended_programme"]
                else "" if item["is_within_limits"] else "*"
            ),
            "trial batches": lambda item: Figure(item["n_trial_batches"], places=0),
            "n": lambda item: Figure(item["n_specimens"], places=0),
            "cost": lambda item: euros(item["cost"]),
            "later pour": lambda item: percent(later(item)["rms"]),
            "inside": lambda item: percent(later(item)["within_tolerance"], 0),
            "own batch": lambda item: percent(item["own_batch"]["rms"]),
            "each batch": schedule,
        },
    )  # fmt: skip


def off(stage: Any) -> float:
    return stage["own_rms"] if stage["later_rms"] is None else stage["later_rms"]


def test_what_else_one_could_buy() -> None:
    assert_says(
        on_page("What else one could buy"),
        document()["alternatives"],
        {
            "programme": lambda item: (
                "> " * item["is_recommended"] + item["name"] + " *" * (not item["is_within_limits"])
            ),
            "n": lambda item: Figure(item["n_trial_batches"] * sum(item["specimens"]), places=0),
            "cost": lambda item: euros(item["cost"]),
            "later pour": lambda item: percent(item["later_rms"]),
            "inside": lambda item: percent(item["within_tolerance"], 0),
            "first curve": lambda item: (
                f"{age_label(item['stages'][0]['age_h'])} ({100 * off(item['stages'][0]):.1f} % off)"
            ),
            "final": lambda item: age_label(item["stages"][-1]["age_h"]),
        },
    )


def test_the_curve_as_breaks_come_in() -> None:
    stages = document()["alternatives"][0]["stages"]
    assert_says(
        on_page("The curve as breaks come in"),
        stages,
        {
            "after": lambda item: age_label(item["age_h"]),
            "ages": lambda item: Figure(item["n_ages"], places=0),
            "own batch": lambda item: percent(item["own_rms"]),
            "later pour": lambda item: percent(item["later_rms"]),
            "curve": lambda item: "final" if item == stages[-1] else "provisional",
        },
    )


def test_repeats_with_and_without_companions_in_reserve() -> None:
    assert_says(
        on_page("What may go wrong"),
        document()["risk"]["options"],
        {
            "companions in reserve": lambda item: Figure(item["n_spares"], places=0),
            "repeated": lambda item: percent(item["chance_of_repeat"]),
            "expected cost": lambda item: euros(item["expected_cost"]),
        },
    )


@pytest.mark.parametrize(
    ("over", "key", "first", "second"),
    [
        ("Own-batch error against specimens", "frontier_by_specimens", "n", "cost"),
        ("Own-batch error against money", "frontier_by_cost", "cost", "n"),
    ],
)
def test_both_frontiers(over: str, key: str, first: str, second: str) -> None:
    limits = {
        "n": lambda item: Figure(sum(item["specimens"]), places=0),
        "cost": lambda item: euros(item["cost"]),
    }
    widest = max(item["rms"] for item in document()[key])
    assert_says(
        on_page(over),
        document()[key],
        {
            first: limits[first],
            "RMS error": lambda item: percent(item["rms"]),
            "": lambda item: "#" * round(24 * item["rms"] / widest),
            "inside": lambda item: percent(item["within_tolerance"], 0),
            "later pour": lambda item: percent(item["later_rms"]),
            second: limits[second],
            "best schedule within that": schedule,
        },
    )


def test_one_specimen_more_or_less() -> None:
    gains, losses = document()["next_specimen"], document()["one_specimen_less"]
    assert gains
    assert losses
    changes = ["one more"] * len(gains) + ["one less"] * len(losses)
    assert_says(
        on_page("One specimen more or less in the recommended schedule"),
        [{**step, "change": change} for change, step in zip(changes, gains + losses, strict=True)],
        {
            "change": lambda item: f"{item['change']} at {age_label(item['age_h'])}",
            "now": lambda item: Figure(item["n_now"], places=0),
            "RMS error now": lambda item: percent(item["rms_now"], 2),
            "then": lambda item: percent(item["rms_then"], 2),
            "costs": lambda item: euros(item["cost"]),
            "within the plan's limits": lambda item: "yes" if item["is_allowed"] else "no",
        },
    )


SUMS = ("calibration", "checks and pours", "in all")


def sums_of(estimate: Any) -> dict[str, float]:
    amounts = dict.fromkeys(("calibration", "checks and pours", "contingency"), 0.0)
    for item in estimate["items"]:
        amounts[item["part"]] += item["amount"]
    assert amounts["calibration"] == pytest.approx(estimate["total"])
    return {**amounts, "in all": estimate["in_all"]}


def test_every_line_of_both_estimates() -> None:
    table = on_page("Estimate, line by line")
    first, second = document()["estimates"]
    assert table.headings == ("item", "price", "number", "recommended", "number 2", "as compared")
    rows = {row["item"]: row for row in table.rows}
    assert len(rows) == len(table.rows)
    for estimate, number, amount in ((first, *table.headings[2:4]), (second, *table.headings[4:6])):
        for name, total in sums_of(estimate).items():
            if name in SUMS:
                assert Figure(total, "EUR", places=0 if total == round(total) else 2).is_said(rows[name][amount])
                assert (rows[name]["price"], rows[name][number]) == ("", "")
        for item in estimate["items"]:
            row = rows[item["name"]]
            assert Figure(item["quantity"]).is_said(row[number]), item["name"]
            if item["is_open"]:
                assert (row["price"], row[amount]) == ("open", "open")
                continue
            assert cents(item["amount"]).is_said(row[amount]), item["name"]
            is_share = item["part"] == "contingency"
            assert row["price"] == "" if is_share else cents(item["unit_price"]).is_said(row["price"]), item["name"]
        assert {item["name"] for item in estimate["items"]} | set(SUMS) == {
            name for name, row in rows.items() if row[number] or row[amount]
        }


def test_sheets_of_the_estimates() -> None:
    book = load_workbook(io.BytesIO(render_estimate_workbook(priced())))
    assert book.sheetnames == ["1 recommended", "2 as compared", "Alternatives"]
    for sheet, estimate in zip(book.worksheets, document()["estimates"], strict=False):
        assert [cell.value for cell in sheet[1]] == ["item", "quantity", "price, EUR", "amount, EUR", "note"]
        rows = {row[0].value: row for row in sheet.iter_rows(min_row=2) if row[0].value}
        for item in estimate["items"]:
            name, quantity, price, amount, note = rows[item["name"]]
            assert quantity.value == pytest.approx(item["quantity"])
            assert quantity.number_format == "General"
            if item["part"] != "contingency":  # whose price is the sum of all else, a formula
                assert price.value == pytest.approx(item["unit_price"])
            assert amount.value == f"=B{name.row}*C{name.row}"
            assert price.number_format == amount.number_format == "#,##0.00"
            assert ("no price stated" in str(note.value)) == item["is_open"]
        (said,) = [name for name in rows if " the casting hour" in name]
        n_visits, most = estimate["n_visits"], estimate["n_visits_at_most"]
        hours = "whatever" if most == n_visits else f"up to {most} by"
        assert said.startswith(f"{schedule(estimate['schedule'])}; {n_visits} visits, {hours} the casting hour")


def test_sheet_of_the_alternatives() -> None:
    book = load_workbook(io.BytesIO(render_estimate_workbook(priced())))
    assert_says(
        sheet_table(book["Alternatives"]),
        document()["alternatives"],
        {
            "programme": lambda item: item["name"] + " (to bid)" * item["is_recommended"],
            "specimens": lambda item: Figure(item["n_trial_batches"] * sum(item["specimens"]), places=0),
            "cost, EUR": lambda item: Figure(item["cost"], places=2),
            "later pour, RMS": lambda item: percent(item["later_rms"]),
            "inside": lambda item: percent(item["within_tolerance"], 0),
            "first curve": lambda item: (
                f"{age_label(item['stages'][0]['age_h'])} ({100 * off(item['stages'][0]):.1f} % off)"
            ),
            "final": lambda item: age_label(item["stages"][-1]["age_h"]),
            "each batch": schedule,
        },
    )
