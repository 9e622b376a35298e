"""The estimator's answer: it adds up, it comes first, and it says what to fill in."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import pytest
from rich.console import Console

from planner.report.accounts.price.estimate_table import estimate_names
from planner.report.accounts.price.frontier_account import steps_down
from planner.report.accounts.price.price_account import price_account
from planner.report.accounts.price.price_parts_account import risk_words
from planner.report.documents.values.price_document import price_document
from planner.report.documents.values.recommendation_document import write_json
from planner.report.screens.terminal import print_sections
from planner.report.text.plain_blocks import plain_sections
from planner.terms.results.answers import PriceAnswer
from tests.report.documents.test_estimate_documents import answer
from tests.report.invented_answers import COSTS, invented_price


def shown(answer: PriceAnswer, *, width: int = 100) -> str:
    stream = io.StringIO()
    print_sections(price_account(answer), Console(file=stream, width=width))
    return stream.getvalue()


def test_the_answer_stands_in_the_first_fifteen_lines() -> None:
    head = " ".join("\n".join(shown(invented_price(), width=80).splitlines()[:15]).split())
    for word in ("EUR", "own batch read 4.2 % off (RMS", "later pour read 9.4 % off (RMS",
                 "one more at 6 h: 4.20 % to 4.00 %"):  # fmt: skip
        assert word in head


def test_the_estimate_adds_up_by_hand() -> None:
    # 11 specimens, 2 spares, 2 with sensors; beside the calibration 6 companions of 2 checks. Always open: an
    # attendance a day.
    answer = invented_price()
    lines = {item.name: item.amount for item in answer.estimates[0].items}
    n_visits = answer.estimates[0].n_visits
    assert lines["specimens made"] == 15 * 18
    assert lines["end preparation"] == 11 * 12
    assert lines["breaking"] == 11 * 25
    assert lines["instrumented specimens"] == 2 * 60
    assert lines["visits inside laboratory hours"] == n_visits * 90
    assert answer.estimates[0].total == 270 + 132 + 275 + 120 + 90 * n_visits + 400
    assert answer.estimates[0].in_all == answer.estimates[0].total + 6 * 55 + 2 * 90
    document = price_document(answer)
    for found in document["estimates"]:
        assert sum(item["amount"] for item in found["items"]) == found["in_all"]
        assert found["in_all"] - found["total"] == sum(
            item["amount"] for item in found["items"] if item["part"] != "calibration"
        )
        assert all(item["quantity"] * item["unit_price"] == item["amount"] for item in found["items"])
    assert f"{answer.estimates[0].total:.0f} EUR" in shown(answer)


def test_a_price_left_out_is_open_and_not_in_the_sum() -> None:
    from dataclasses import replace

    answer = replace(invented_price(replace(COSTS, break_one=0.0)), to_fill_in=("break",))
    assert answer.estimates[0].open_items == ("breaking", "casting inside laboratory hours")
    text = shown(answer)
    assert "Without a price and so not in any sum: break" in text
    assert "open" in text


def test_without_prices_it_answers_in_specimens_and_says_what_to_fill_in() -> None:
    text = shown(invented_price(None))
    assert "11 specimens (" in text
    assert "fill in [costs]" in text
    assert "specimen, break, visit" in " ".join(text.split())
    assert "EUR" not in text
    assert "Error against money" not in text


def test_only_points_that_lower_the_error_are_listed() -> None:
    answer = invented_price()
    assert [point.limit for point in steps_down(answer.by_specimens)] == [6.0, 7.0]
    assert "Beyond 7 specimens, up to 8, these records show no lower error." in shown(answer)
    assert len(price_document(answer)["frontier_by_specimens"]) == 3


def test_the_document_is_what_the_screen_says() -> None:
    answer = invented_price()
    document = json.loads(write_json(price_document(answer)))
    assert document["schema"] == "test-age-planner/price/1"
    assert document["frontier_by_cost"][0]["ages_h"] == [6.0, 12.0, 24.0]
    assert document["equal"][0]["n_specimens_needed"] == 41
    assert document["sufficiency"]["is_reached"] is False
    assert document["sufficiency"]["sentence"] in " ".join(shown(answer).split())
    assert document["estimates"][0]["count"]["n_made"] == 21
    assert document["recommendation"]["programme"]["n_made"] == 21
    assert document["recommendation"]["enough"] is None


def test_cautions_and_what_always_holds_stand_on_it() -> None:
    answer = invented_price()
    text = " ".join(shown(answer).split())
    for caution in answer.recommendation.cautions:
        assert caution.code in text
    for sentence in answer.recommendation.standing_cautions:
        assert sentence in text


@pytest.mark.parametrize("width", [60, 80, 140])
def test_it_fits_any_screen(width: int) -> None:
    assert all(len(line) <= width for line in shown(invented_price(), width=width).splitlines())
    assert plain_sections(price_account(invented_price()), width=max(width, 78))


def test_estimates_of_one_name_are_numbered() -> None:
    first, second = invented_price().estimates
    assert estimate_names((first, second, second)) == ("recommended", "as compared 1", "as compared 2")


def test_only_what_is_counted_is_named_a_ground_of_repeats() -> None:
    counted = answer().risk
    assert counted is not None
    risk = replace(counted, n_strangers=None)
    assert "are refused (of 9" in risk_words(risk, "EUR")
    assert "are refused or strangers (of 9" in risk_words(replace(risk, n_strangers=0), "EUR")


def test_what_the_sum_of_everything_holds_is_named() -> None:
    # the invented programme checks two pours and has no companions of the trial batch
    assert "EUR with site checks 510" in " ".join(shown(invented_price()).split())
