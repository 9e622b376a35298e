"""The first screen of an estimate: short, acted on, and true where nothing is cast or several are cast at one time."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache

import pytest
from openpyxl import load_workbook
from rich.console import Console

from planner.laboratory.casting.casting_times import casting_windows, with_castings
from planner.pipeline import price
from planner.report.accounts.price.bid_account import bid_of
from planner.report.accounts.price.estimate_table import casting_words
from planner.report.accounts.price.price_account import brief_price_account, price_account
from planner.report.documents.estimate_workbook import render_estimate_workbook
from planner.report.documents.values.price_document import price_document
from planner.report.screens.terminal import print_sections
from planner.report.text.plain_blocks import plain_sections
from planner.terms.plan.early_breaks import Pours
from planner.terms.plan.settings import Laboratory, ProgrammeSettings
from planner.terms.results.answers import PriceAnswer
from tests.report.documents.test_estimate_documents import answer
from tests.verdict.answers.test_price_parts import priced_plan

MOST_LINES = 24


def screen(found: PriceAnswer, width: int = 100) -> str:
    stream = io.StringIO()
    print_sections(brief_price_account(found), Console(file=stream, width=width))
    return stream.getvalue()


def flat(text: str) -> str:
    return " ".join(text.split())


@cache
def nothing_cast(*, has_pours: bool) -> PriceAnswer:
    plan = priced_plan()
    programme = ProgrammeSettings(instrumented=0, companions_per_check=3, n_checks=4, relies_on_records=True)
    ages_h = tuple(sorted(plan.settings.choices.ages_h))[:1]
    pours = Pours(early_ages_h=ages_h, specimens_per_age=(1, 1), most_specimens=1, number=10)
    settings = replace(plan.settings, programme=programme, pours=pours if has_pours else None)
    return price(replace(plan, settings=settings), n_draws=5, workers=1)


def test_it_is_a_screen_and_not_a_report() -> None:
    assert len(screen(answer()).splitlines()) <= MOST_LINES


def test_early_breaks_of_the_bid_stand_beside_it_and_its_other_numbers_do_not() -> None:
    found = answer()
    alike = replace(found.alternatives[1], schedule=found.estimates[0].schedule)
    early = replace(alike, name="1 trial batch and 3 early breaks a pour", n_early=3, cost=7849.0)
    said = flat(screen(replace(found, alternatives=(found.alternatives[0], alike, early)), width=400))
    assert "Instead 1 trial batch and 3 early breaks a pour: 7849 EUR" in said
    assert "2 trial batches: " not in said


@pytest.mark.parametrize("has_pours", [True, False])
def test_where_nothing_is_cast_no_calibration_is_bid(*, has_pours: bool) -> None:
    found = nothing_cast(has_pours=has_pours)
    said, full = flat(screen(found)), flat(plain_sections(price_account(found), width=100))
    for text in (said, full):
        assert "The plan casts nothing ([programme] trial_batches = 0), so no calibration is to be paid for." in text
        assert "If cast" in text
    for absent in ("Repeat", "One batch more", "Why this"):
        assert absent not in said
    assert all(item.is_within_limits == (item.n_trial_batches == 0) for item in found.alternatives)
    bid = bid_of(found)
    assert sum(item.is_recommended for item in found.alternatives) == has_pours
    if bid is not None:
        assert (bid.n_trial_batches, bid.n_early, bid.cost) == (0, 1, 10 * 55.0)  # made, prepared, broken: ten pours
        assert f"{bid.cost:.0f} EUR, later pour {100 * bid.later_rms:.1f} % off" in said
    assert price_document(found)["relies_on_records"] is True
    assert "the row to bid is marked" not in full
    sheet = load_workbook(io.BytesIO(render_estimate_workbook(found))).worksheets[0]
    assert any("casts nothing" in str(cell.value) for row in sheet.iter_rows() for cell in row)


def test_one_casting_time_for_several_trial_batches_is_said_to_price_them_alike() -> None:
    plan = priced_plan()
    programme = ProgrammeSettings(instrumented=0, trial_batches=3)
    settings = replace(plan.settings, programme=programme, laboratory=Laboratory())
    texts = ("2027-03-02 08:00",), tuple(f"2027-03-0{day} 08:00" for day in (2, 3, 4)), ()
    said = []
    for given in texts:
        cast = replace(plan, settings=with_castings(settings, casting_windows(given)))
        found = price(cast, n_draws=5, workers=1)
        assert found.estimates[0].n_castings_asked == len(given)
        said.append(casting_words(found.estimates[0]))
        assert said[-1] in flat(screen(found, width=400))
    alike = "(2 more trial batches are priced as cast at that time too; give --cast for each)"
    assert alike in said[0]
    assert "cast 2027-03-02 08:00 and 2027-03-03 08:00 and 2027-03-04 08:00" in said[1]
    assert not any("priced as cast" in text for text in said[1:])
    assert "cast Monday" not in said[2]


def test_the_sheet_of_alternatives_names_what_has_no_price() -> None:
    found = replace(answer(), to_fill_in=("casting",))
    sheet = load_workbook(io.BytesIO(render_estimate_workbook(found)))["Alternatives"]
    texts = [str(cell.value) for row in sheet.iter_rows() for cell in row]
    assert "Without a price and so not in any sum: casting." in texts
    without = load_workbook(io.BytesIO(render_estimate_workbook(answer())))["Alternatives"]
    assert not any("Without a price" in str(cell.value) for row in without.iter_rows() for cell in row)
