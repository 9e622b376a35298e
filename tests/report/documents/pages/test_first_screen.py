"""What the page tells before anything else, and where its links lead."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import replace
from itertools import pairwise

import pytest
from openpyxl import load_workbook

from planner.laboratory.clock.break_times import break_times
from planner.laboratory.costs.cost_sums import cost_when_cast
from planner.report.accounts.action_account import action_facts
from planner.report.accounts.clock.clock_account import clock_account
from planner.report.accounts.full_account import cast_words, cost_words
from planner.report.accounts.parts.sample_size_account import HEADING, enough_section
from planner.report.documents.pages.page import render_page
from planner.report.documents.pages.page_headline import first_screen
from planner.report.documents.workbook import render_workbook
from planner.report.text.blocks import Table
from planner.terms.plan.settings import Laboratory
from planner.terms.plan.third_specimen import third_specimen_rule
from planner.terms.results.programme_count import ProgrammeCount
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.documents.pages.test_page import outline
from tests.report.invented_result import bare_recommendation, invented_recommendation
from tests.report.real_results import made_from
from tests.report.sheets.test_workbook import SETTINGS

OFFICE = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4))


def counted(n_trial_batches: int) -> Recommendation:
    count = ProgrammeCount(
        n_trial_batches=n_trial_batches,
        n_schedule=11 * n_trial_batches,
        n_spares=2 * n_trial_batches,
        n_instrumented=n_trial_batches,
        n_checks=0,
        n_companions=0,
        expected_third_breaks=0.0,
        third=third_specimen_rule("cylinder 100x200 mm"),
        n_moulds=14,
        litres_per_trial_batch=None,
        litres=None,
    )
    return replace(invented_recommendation(), programme=count)


def test_breaks_are_dated_by_the_casting() -> None:
    advice = invented_recommendation()
    times = break_times(advice.recommended.schedule, OFFICE, cast_at=dt.datetime(2027, 3, 1, 8, 0))
    screen = first_screen(advice, (times,))
    assert [line.age for line in screen.breaks] == ["6 h", "12 h", "1 d", "28 d"]
    assert screen.breaks[0].due == "Mon 01 Mar, 13:45"  # half an hour of breaking, centred on 14:00
    assert [line.is_outside_hours for line in screen.breaks] == [False, True, False, False]
    assert screen.visits == (
        "Cast Mon 01 Mar, 08:00: 4 visits, 1 outside laboratory hours. Times: the first specimen goes in."
    )


def test_without_a_casting_nothing_is_dated() -> None:
    screen = first_screen(invented_recommendation(), ())
    assert {line.due for line in screen.breaks} == {""}
    assert screen.visits == "4 visits."


def test_companions_stand_beside_the_visits_on_page_and_screen() -> None:
    found = counted(1)
    assert found.programme is not None
    six = replace(found, programme=replace(found.programme, n_acceptance=6))
    assert first_screen(six, ()).visits == "4 visits. Companions at 6 h and 1 d, cured on site."
    assert cast_words(six).endswith("6 companions on site: 20 in all")
    assert "ompanions" not in first_screen(found, ()).visits
    assert dict(action_facts(six))["Come in"] == "4 visits; companions at 6 h and 1 d"


def test_what_is_not_known_is_said_to_be_unknown() -> None:
    figures = first_screen(bare_recommendation(), ()).figures
    assert figures[0] == ("?", "error on a later pour of the mix: unknown")
    assert figures[1] == ("3.1 %", "off on these records (RMS); nothing could be held out")
    assert len(figures) == 2


def test_the_later_batch_comes_before_the_trial_batch() -> None:
    figures = first_screen(invented_recommendation(), ()).figures
    assert [figure for figure, _ in figures] == ["9.4 %", "71 %", "4.2 %", "x 1.22"]


@pytest.mark.parametrize(
    ("n_trial_batches", "words"),
    [
        (1, "11 specimens for breaking (budget 18), 2 spare, 1 with a temperature sensor: 14 in all"),
        (
            2,
            "11 specimens for breaking (budget 18), 2 spare, 1 with a temperature sensor: 14 in all, "
            "for each of 2 trial batches",
        ),
    ],
)
def test_specimens_are_counted_for_one_trial_batch(n_trial_batches: int, words: str) -> None:
    assert cast_words(counted(n_trial_batches)) == words


def test_the_cost_names_its_casting_hour() -> None:
    advice = made_from(4, has_prices=True).told
    assert advice.estimate is not None
    assert advice.recommended.cost is not None
    assert cost_words(advice) == f"{advice.recommended.cost:.0f} EUR if cast {advice.estimate.casting}"


def test_the_cost_of_the_casting_asked_for_is_told_on_every_output() -> None:
    # at 22:00 the office hours are missed by breaks that 08:00 meets, so this casting costs more
    advice = made_from(4, has_prices=True).told
    assert advice.estimate is not None
    settings = replace(SETTINGS, laboratory=OFFICE)
    times = break_times(advice.recommended.schedule, OFFICE, cast_at=dt.datetime(2027, 3, 1, 22, 0))
    assert times.n_outside > 0
    others = sum(item.amount for item in advice.estimate.items if not item.name.startswith("visits"))
    prices = {item.name: item.unit_price for item in advice.estimate.items}
    n_batches = advice.estimate.count.n_trial_batches
    visits = (times.n_visits - times.n_outside) * prices["visits inside laboratory hours"]
    visits += times.n_outside * prices["visits outside laboratory hours"]
    cost = others + n_batches * visits
    assert cost_when_cast(advice.estimate, times) == pytest.approx(cost)
    assert f"cost {cost:.0f} EUR" in first_screen(advice, [times]).visits
    assert clock_account([times], advice)[0].heading.endswith(f", {cost:.0f} EUR")
    front = load_workbook(io.BytesIO(render_workbook(advice, settings, castings=[times])))["Summary"]
    assert any(f"{cost:.0f} EUR" in str(cell.value) for cell in front["B"])


def test_a_laboratory_that_is_always_open_has_no_breaks_inside_or_outside_hours() -> None:
    advice = invented_recommendation()
    times = break_times(advice.recommended.schedule, Laboratory(), cast_at=dt.datetime(2027, 3, 1, 22, 0))
    assert "counts as always open" in first_screen(advice, [times]).visits
    (section,) = clock_account([times], advice)
    assert "laboratory always open" in section.heading
    assert isinstance(section.blocks[0], Table)
    assert "hours" not in [column.heading for column in section.blocks[0].columns]


def test_screen_and_clock_table_name_the_same_start() -> None:
    advice = invented_recommendation()
    times = break_times(advice.recommended.schedule, OFFICE, cast_at=dt.datetime(2027, 3, 1, 22, 0))
    table = clock_account([times], advice)[0].blocks[0]
    assert isinstance(table, Table)
    assert [row[2][-5:] for row in table.rows] == [line.due[-5:] for line in first_screen(advice, [times]).breaks]


@pytest.mark.parametrize("n_batches", [1, 2, 4])
def test_links_lead_somewhere(n_batches: int) -> None:
    advice = made_from(n_batches).told
    tags = outline(render_page(advice)).tags
    identities = {attributes["id"] for _, attributes in tags if "id" in attributes}
    aims = [str(attributes["href"])[1:] for tag, attributes in tags if tag == "a"]
    assert set(aims) <= identities
    assert len(aims) >= 1


def test_what_is_enough_is_told_with_the_counts_that_change_the_choice() -> None:
    advice = made_from(4).told
    assert advice.sufficiency is not None
    section = enough_section(advice)
    assert section.heading == HEADING
    table = next(block for block in section.blocks if isinstance(block, Table))
    shown = [row[1:] for row in table.rows]
    assert shown
    assert all(one != other for one, other in pairwise(shown))
    assert HEADING in outline(render_page(advice)).text
