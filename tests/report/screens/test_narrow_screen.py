"""Eighty columns: no line is longer, and no word of a table is broken."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from rich.cells import cell_len
from rich.console import Console

from planner.after_casting.site_checking import check_pours
from planner.evidence.record_summary import tell_story
from planner.laboratory.casting.casting_times import casting_windows, with_castings
from planner.pipeline import price
from planner.read import load_plan
from planner.report.accounts.after_casting.curve_account import curve_account
from planner.report.accounts.after_casting.pour_account import pour_account
from planner.report.accounts.after_casting.site_checks_account import site_checks_account
from planner.report.accounts.brief_account import brief_account
from planner.report.accounts.full_account import recommendation_account
from planner.report.accounts.minimum_account import brief_minimum_account, minimum_account
from planner.report.accounts.price.price_account import brief_price_account, price_account
from planner.report.accounts.records_account import story_account
from planner.report.accounts.score_account import score_account
from planner.report.screens.terminal import print_sections
from planner.report.text.blocks import Column, Section, Table
from planner.starter import STARTER
from planner.sweeping.sweep_rows import failed_row, row_of
from planner.sweeping.sweep_table import sweep_section
from planner.terms.results.answers import PriceAnswer
from tests.after_casting.test_check_pours import checks, curve, rows
from tests.after_casting.test_read_pour import FOUR_HOURS, answer_of, record
from tests.issued_curve.trial_files import issued, runway_plan
from tests.report.invented_answers import invented_minimum, invented_price
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from
from tests.verdict.answers.test_price_parts import priced_plan
from tests.verdict.wording.test_safe_reading_words import SCENARIOS

ACCOUNTS = {
    "brief": lambda: brief_account(invented_recommendation()),
    "full": lambda: recommendation_account(invented_recommendation()),
    "price": lambda: price_account(invented_price()),
    "minimum": lambda: minimum_account(invented_minimum()),
    "made brief": lambda: brief_account(made_from(4, has_prices=True).told),
    "made full": lambda: recommendation_account(made_from(4, has_prices=True).told),
    "made score": lambda: score_account(made_from(4, has_prices=True).told.best, made_from(4, has_prices=True).told),
    "made price": lambda: price_account(_made_price()),
    "made brief price": lambda: brief_price_account(_made_price()),
    "brief minimum": lambda: brief_minimum_account(invented_minimum()),
    "check": lambda: _checked(STARTER / "plan.toml"),
    "check of two curings": lambda: _checked(SCENARIOS / "runway-panels" / "plan.toml"),
    "sweep": lambda: (_swept(),),
    "curve": lambda: _after_casting("curve"),
    "site checks": lambda: _after_casting("site checks"),
    "pour": lambda: _after_casting("pour"),
}


@cache
def _made_price() -> PriceAnswer:
    """Of a small plan with every price, at a casting time: the widest tables there are."""
    plan = priced_plan()
    return price(replace(plan, settings=with_castings(plan.settings, casting_windows(["2027-03-02 08:00"]))), n_draws=5)


def _checked(path: Path) -> tuple[Section, ...]:
    plan = load_plan(path)
    targets = tuple(zip(plan.settings.target.ages_h, plan.settings.target.waits_mpa, strict=True))
    return story_account(tell_story(plan.records, targets=targets), title=plan.settings.title)


def _swept() -> Section:
    made = made_from(4, has_prices=True)
    plan = load_plan(STARTER / "plan.toml")
    failed = failed_row("north yard/winter/slab-with-a-long-name.toml", ValueError("no such table " * 6), target="1 d")
    return sweep_section((row_of("south yard/slab-with-a-long-name.toml", plan, made.told), failed))


@cache
def _after_casting(which: str) -> tuple[Section, ...]:
    with TemporaryDirectory() as name:
        folder = Path(name)
        if which == "curve":
            return curve_account(issued(folder, "T1"))
        if which == "pour":
            return pour_account(answer_of(folder, *FOUR_HOURS, site=record(25.0)))
        pours = checks(folder, rows("P1", 20.0, 0.95), rows("a pour with a long name", 24.0, 1.05, required_mpa=30.0))
        return site_checks_account(check_pours(runway_plan(), curve(), pours))


def printed(sections: tuple[Section, ...]) -> str:
    stream = io.StringIO()
    print_sections(sections, Console(file=stream, width=80, highlight=False, emoji=False, markup=False))
    return stream.getvalue()


@pytest.mark.parametrize("name", ACCOUNTS)
def test_no_line_is_longer_and_no_word_of_a_table_is_broken(name: str) -> None:
    sections = ACCOUNTS[name]()
    text = printed(sections)
    assert all(cell_len(line) <= 80 for line in text.splitlines())
    shown = set(text.split())
    tables = [block for section in sections for block in section.blocks if isinstance(block, Table)]
    assert tables or name == "made brief price"  # a screen of facts alone
    for table in tables:
        kept = [place for place, column in enumerate(table.columns) if not column.is_wide_only]
        for row in (tuple(column.heading for column in table.columns), *table.rows):
            for place in kept:
                missing = [word for word in row[place].split() if word not in shown]
                assert not missing, (row[place], missing)


def test_the_widest_column_gives_way_first() -> None:
    table = Table(
        columns=(Column(heading="a"), Column(heading="b")),
        rows=(("recommended", " ".join(["several words"] * 9)),),
    )
    text = printed((Section("s", (table,)),))
    assert "recommended  several words" in text
