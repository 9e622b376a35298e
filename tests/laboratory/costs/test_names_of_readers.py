"""Prices that a plan names like the program's own lines: what a line is decides, never what it is called."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from openpyxl import Workbook

from planner.laboratory.clock.break_times import break_times
from planner.laboratory.costs.cost_sums import attempt_cost, cost_when_cast
from planner.laboratory.costs.estimate import estimate
from planner.laboratory.costs.line_words import NAMES
from planner.report.accounts.parts.estimate_lines import estimate_lines
from planner.report.accounts.price.bid_account import bid_section
from planner.report.accounts.price.estimate_table import estimates_section, visits_words
from planner.report.documents.values.price_document import price_document
from planner.report.sheets.cost_lines import put_lines
from planner.report.text.blocks import Facts, Table
from planner.terms.plan.early_breaks import PourBreaks
from planner.terms.plan.settings import Costs, Laboratory, OtherCost, ProgrammeSettings
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.cost_item import CostKind
from planner.terms.results.programme_count import Estimate
from planner.terms.schedule import Schedule
from planner.verdict.answers.price.price_answer import open_prices
from tests.report.invented_answers import invented_price

OF_SUMS = ("calibration", "checks and pours", "in all", "total", "casting", "early breaks of pours", "early breaks")
HOSTILE = tuple(dict.fromkeys([*OF_SUMS, *NAMES.values(), "early breaks of 40 pours"]))
PLAIN = Costs(
    currency="EUR", specimen=18, preparation=12, break_one=25, visit=90, visit_outside_hours=240, instrumented=60,
    fixed=400, casting=150, casting_outside_hours=400, check_visit=35, pour_break=30, contingency=0.1,
)  # fmt: skip
OPEN = Laboratory(opens=dt.time(7), closes=dt.time(17))
SCHEDULE = Schedule((6.0, 24.0), (2, 3))


def named(*names: str, amount: float = 7.0) -> Costs:
    return replace(PLAIN, other=tuple(OtherCost(name=name, amount=amount, per="programme") for name in names))


def priced(costs: Costs) -> Estimate:
    return estimate(
        ChoiceRole.RECOMMENDED, SCHEDULE, costs=costs, laboratory=OPEN, within_test_cv=(0.03, 0.03),
        programme=ProgrammeSettings(instrumented=2, companions_per_check=3, n_checks=4), targets_h=(6.0, 24.0),
        pour_breaks=PourBreaks(n_pours=40, n_specimens=2),
    )  # fmt: skip


def test_hostile_names_change_no_sum_but_by_their_amounts() -> None:
    plain, hostile = priced(PLAIN), priced(named(*HOSTILE))
    n = len(HOSTILE)
    assert n > 20
    assert hostile.total == plain.total + 7 * n
    assert visits_words(hostile) == visits_words(plain)
    night = break_times(SCHEDULE, OPEN, cast_at=dt.datetime(2027, 3, 1, 22))
    assert cost_when_cast(hostile, night) == cost_when_cast(plain, night) + 7 * n
    (one, once), (one_plain, once_plain) = attempt_cost(hostile, named(*HOSTILE)), attempt_cost(plain, PLAIN)
    assert (one, once) == (one_plain, once_plain + 7 * n)
    # an attempt pays the calibration and its acceptance, 6 companions of 55 and 2 visits of 35, no site check
    assert (one_plain, once_plain) == (plain.total + 6 * 55 + 2 * 35, 0.0)


def test_every_line_stands_in_the_table_with_its_own_amount() -> None:
    twice = named(*HOSTILE, *HOSTILE)  # and each name twice
    found = priced(twice)
    section = estimates_section((found, found), "EUR")
    table = next(block for block in section.blocks if isinstance(block, Table))
    expected = [(item.name, f"{item.amount:.2f}".removesuffix(".00")) for item in found.items]
    shown = [(row[0].replace("\u00a0", " "), row[3]) for row in table.rows if not row[3].endswith("EUR")]
    assert shown == expected
    assert [(row[2], row[3]) for row in table.rows] == [(row[4], row[5]) for row in table.rows]
    assert sum(row[3].endswith("EUR") for row in table.rows) == 3


def test_a_line_that_one_estimate_lacks_stands_where_the_other_has_it() -> None:
    whole = priced(named("transport"))
    few = replace(whole, items=tuple(item for item in whole.items if not item.kind.is_acceptance))
    section = estimates_section((few, whole), "EUR")
    table = next(block for block in section.blocks if isinstance(block, Table))
    assert [row[0].replace("\u00a0", " ") for row in table.rows] == [line.name for line in estimate_lines(whole)]
    assert sum(not row[3] for row in table.rows) == 2  # companions and their visits inside hours


def test_the_first_screen_counts_beside_the_calibration_what_is_beside_it() -> None:
    found = replace(invented_price(), estimates=(priced(named(*HOSTILE)),))
    facts = next(block for block in bid_section(found).blocks if isinstance(block, Facts))
    said = dict(facts.pairs)["In all"]
    # companions 6 x 55 and a visit inside (6 h and 1 d after Monday 07:00 fall on two days): 330 + 2 x 35; four site
    # checks of 3: 660 + 4 x 35; 80 early specimens of 30
    assert "companions of trial batches 400, site checks 800, early breaks of pours 2400" in said


def test_a_price_of_nought_is_told_apart_from_the_programs_own() -> None:
    costs = replace(named("casting", amount=0.0), casting=0.0, casting_outside_hours=None)
    assert open_prices(costs, [priced(costs)]) == ("casting", '"casting" of [[costs.other]]')


def test_the_sheet_notes_visits_beside_visits_alone() -> None:
    sheet = Workbook().worksheets[0]
    items = priced(named(*HOSTILE)).items
    put_lines(sheet, 2, items, note=lambda item: "noted" if item.kind.is_schedule_visit else "")
    noted = [row[0] for row in sheet.iter_rows(min_row=2, values_only=True) if row[4] == "noted"]
    assert noted == [NAMES[CostKind.VISITS], NAMES[CostKind.VISITS_OUTSIDE_HOURS]]


def test_the_document_tells_what_every_line_is() -> None:
    document = price_document(replace(invented_price(), estimates=(priced(named("casting")),)))
    kinds = [(item["name"], item["kind"]) for item in document["estimates"][0]["items"]]
    assert ("casting", "other") in kinds
    assert ("casting inside laboratory hours", "casting") in kinds
    assert len({kind for _, kind in kinds}) == len(kinds)
