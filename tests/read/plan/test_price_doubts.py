"""Prices that are slips: refused with how a number is written, or cautioned with the figure that was likely meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.read import check_plan
from planner.read.plan.doubts.price_doubts import price_doubts
from planner.terms.plan.settings import Costs
from tests.read.invented_study import break_rows, plan_text, write_study

PRICES = {"specimen": 18.0, "preparation": 12.0, "break_one": 25.0, "visit": 90.0, "visit_outside_hours": 240.0}


def costs(**changed: float) -> Costs:
    return Costs(currency="EUR", **{**PRICES, **changed})


@pytest.mark.parametrize(
    ("changed", "key", "written"),
    [
        ({"break_one": 25_000.0}, "costs.break: 25000 EUR is 1389 times", "write 25 or"),
        ({"break_one": 0.025}, "costs.break: 0.025 EUR is one 480th of", "or 25, "),
        ({"specimen": 18_500.0}, "costs.specimen: 18500 EUR is 740 times", "write 18.5 or"),
        ({"visit": 90_000.0}, "costs.visit: 90000 EUR is 3600 times", "write 90 or"),
        ({"visit_outside_hours": 240_000.0}, "costs.visit_outside_hours", "write 240 or"),
        ({"check_visit": 35_000.0}, "costs.check_visit", "write 35 or"),
        ({"instrumented": 60_000.0}, "costs.instrumented", "write 60 or"),
        ({"pour_break": 55_000.0}, "costs.pour_break", "write 55 or"),
    ],
)
def test_a_price_a_thousand_times_the_others_is_cautioned_alone(changed, key: str, written: str) -> None:
    texts = price_doubts(costs(**changed))
    assert len(texts) == 1
    assert texts[0].startswith(key)
    assert written in texts[0]


@pytest.mark.parametrize(
    "prices",
    [
        PRICES,
        {"break_one": 25_000.0},  # alone, nothing to compare with
        {"specimen": 2.0, "break_one": 40.0, "visit": 1500.0},
        {**PRICES, "fixed": 40_000.0, "casting": 12_000.0},  # paid once: of any size
        {"specimen": 18_000.0, "preparation": 12_000.0, "break_one": 25_000.0, "visit": 90_000.0},  # a small currency
        {"specimen": 18.0, "preparation": 0.5, "break_one": 25.0},
        {},
    ],
)
def test_prices_that_can_be_meant_pass(prices) -> None:
    assert price_doubts(Costs(currency="EUR", **prices)) == []


def test_where_the_doubt_begins() -> None:
    # the nearest is 18: 300 times that is 5400; for an attendance 25, from 25000 on
    assert price_doubts(costs(break_one=5399.0)) == []
    assert len(price_doubts(costs(break_one=5400.0))) == 1
    assert price_doubts(costs(visit=24_999.0)) == []
    assert len(price_doubts(costs(visit=25_000.0))) == 1
    # downwards the nearest is 12: a 300th of it is 0.04; for an attendance a 1000th, 0.012
    assert price_doubts(costs(break_one=0.0401)) == []
    (text,) = price_doubts(costs(break_one=0.04))
    assert "is one 300th of the nearest price" in text
    assert price_doubts(costs(visit=0.01201)) == []
    assert ["one 1000th of" in text for text in price_doubts(costs(visit=0.012))] == [True]
    # of two prices the dearer one is asked about
    assert [text[:20] for text in price_doubts(Costs(currency="EUR", specimen=18.0, break_one=25_000.0))] == [
        "costs.break: 25000 E"
    ]


@pytest.mark.parametrize("price", ['"25,000"', '"18,35"', "25,000"])
def test_a_comma_in_a_price_is_refused_with_how_a_number_is_written(tmp_path: Path, price: str) -> None:
    text = plan_text(prior='breaks = "breaks.csv"', costs=f'currency = "EUR"\nbreak = {price}')
    read, problems = check_plan(write_study(tmp_path, breaks=break_rows(), plan=text))
    assert read is None
    assert len(problems) == 1
    assert "Thousands are not parted in a number, and decimals follow a point: 25000, 25.5." in problems[0].text


def test_other_faults_of_a_plan_speak_of_no_commas(tmp_path: Path) -> None:
    for bad in ('break = "many"', "break = 25 EUR"):
        text = plan_text(prior='breaks = "breaks.csv"', costs=f'currency = "EUR"\n{bad}')
        _, problems = check_plan(write_study(tmp_path, breaks=break_rows(), plan=text))
        assert len(problems) == 1
        assert "Thousands" not in problems[0].text


def test_the_reader_hands_the_doubt_on(tmp_path: Path) -> None:
    text = plan_text(
        prior='breaks = "breaks.csv"', costs='currency = "EUR"\nspecimen = 18\npreparation = 12\nbreak = 25000'
    )
    read, problems = check_plan(write_study(tmp_path, breaks=break_rows(), plan=text))
    assert problems == ()
    assert read is not None
    said = [caution.text for caution in read.records.cautions if caution.code == "plan-value"]
    assert any("costs.break: 25000 EUR" in text for text in said)
