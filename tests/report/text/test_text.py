"""Plain text for mails."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from planner.report.text.plain_blocks import ascii_text
from planner.report.text.words import clean, weaker_words
from tests.report.invented_result import HOSTILE_NAMES, bare_recommendation, invented_recommendation
from tests.report.pasted_text import render_plain


def words_of(text: str) -> str:
    return " ".join(text.split())


def test_plain_text_says_what_the_terminal_says() -> None:
    advice = invented_recommendation()
    text = words_of(render_plain(advice))
    assert "6 h x3, 12 h x3, 1 d x3, 28 d x2" in text
    assert advice.honest.sentence in text
    for caution in advice.cautions:
        assert caution.code in text
        assert caution.text in text


@pytest.mark.parametrize("width", [60, 78, 100])
def test_plain_lines_keep_their_width(width: int) -> None:
    for found in (invented_recommendation(), bare_recommendation()):
        assert all(cell_len(line) <= width for line in render_plain(found, width=width).splitlines())


def test_plain_text_can_be_ascii() -> None:
    assert render_plain(invented_recommendation(title=HOSTILE_NAMES[3]), is_ascii=True).isascii()
    assert ascii_text("─┴•…▼\u00a0å") == "-+-...v ?"


@pytest.mark.parametrize(("limit", "wanted"), [(9, "batch 123"), (8, "batch 1…"), (7, "batch…"), (6, "batch…")])
def test_a_long_name_is_cut_to_its_limit(limit: int, wanted: str) -> None:
    assert clean("batch 123", limit=limit) == wanted
    assert len(wanted) <= limit


@pytest.mark.parametrize(
    ("assurance", "wanted"),
    [(0.90, "1 pour in 10"), (0.95, "1 pour in 20"), (0.80, "1 pour in 5"), (0.85, "15 % of pours")],
)
def test_what_a_safe_reading_leaves_open(assurance: float, wanted: str) -> None:
    assert weaker_words(assurance) == f"{wanted} may still be weaker"
