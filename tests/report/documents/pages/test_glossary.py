"""The page's glossary: its words are those of the list for contributors, and stand on the page that uses them."""

from __future__ import annotations

import re
from pathlib import Path

from planner.report.accounts.parts.glossary_account import GLOSSARY
from planner.report.documents.pages.page import render_page
from tests.report.invented_result import invented_recommendation

DEVELOPERS = Path(__file__).resolve().parents[4] / "DEVELOPERS.md"
OF_THE_TRADE = {"RMS", "inside", "held out", "maturity"}  # figures and methods, no words of the list


def test_its_words_are_those_of_the_list() -> None:
    listed = re.findall(r"^\| ([^|]+) \| [^|]+ \|$", DEVELOPERS.read_text(encoding="utf-8"), flags=re.MULTILINE)
    words = {word.strip() for entry in listed for word in entry.split(",")}
    assert {term for term, _ in GLOSSARY} - OF_THE_TRADE <= words
    assert len({term for term, _ in GLOSSARY}) == len(GLOSSARY) == 12


def test_the_page_ends_with_it_and_uses_its_words() -> None:
    page = render_page(invented_recommendation())
    before, _, glossary = page.partition("What the words mean")
    for term, meaning in GLOSSARY:
        assert f"<dt>{term}</dt>" in glossary
        assert meaning in glossary
    for term in ("later pour", "own batch", "trial batch", "RMS", "inside"):
        assert term in before
