"""Eighty columns: no line is longer, and no word of a table is broken."""

from __future__ import annotations

import io

import pytest
from rich.cells import cell_len
from rich.console import Console

from planner.report.accounts.brief_account import brief_account
from planner.report.accounts.full_account import recommendation_account
from planner.report.accounts.minimum_account import minimum_account
from planner.report.accounts.price_account import price_account
from planner.report.screens.terminal import print_sections
from planner.report.text.blocks import Column, Section, Table
from tests.report.invented_answers import invented_minimum, invented_price
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from

ACCOUNTS = {
    "brief": lambda: brief_account(invented_recommendation()),
    "full": lambda: recommendation_account(invented_recommendation()),
    "price": lambda: price_account(invented_price()),
    "minimum": lambda: minimum_account(invented_minimum()),
    "made brief": lambda: brief_account(made_from(4, has_prices=True).told),
    "made full": lambda: recommendation_account(made_from(4, has_prices=True).told),
}


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
    assert tables
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
