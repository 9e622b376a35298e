"""The page as a document: self-contained, ordered, escaped. How it behaves is tested in a browser."""

from __future__ import annotations

import datetime as dt
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from planner.laboratory.clock.break_times import break_times
from planner.report.documents.pages.page import render_page
from planner.terms.plan.settings import Laboratory
from tests.report.invented_result import HOSTILE_NAMES, bare_recommendation, invented_recommendation

VOID = {"meta", "link", "input", "br", "hr", "img"}


class Outline(HTMLParser):
    """Collects headings, tags and attributes, and complains about tags that are not closed in order."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.headings: list[tuple[str, str]] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if re.fullmatch(r"h\d", tag):
            self.headings.append((tag, ""))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if any(re.fullmatch(r"h\d", tag) for tag in self.open):
            level, words = self.headings[-1]
            self.headings[-1] = (level, words + data)
        if "script" not in self.open and "style" not in self.open:
            self.text += data


def outline(page: str) -> Outline:
    parser = Outline()
    parser.feed(page)
    assert parser.open == []
    return parser


@pytest.mark.parametrize("found", [invented_recommendation(), bare_recommendation()])
def test_headings_step_down_one_at_a_time(found: object) -> None:
    levels = [int(level[1]) for level, _ in outline(render_page(found)).headings]  # type: ignore[arg-type]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))


def test_nothing_points_outside() -> None:
    page = render_page(invented_recommendation())
    for tag, attributes in outline(page).tags:
        for name in ("src", "href", "action", "data"):
            target = attributes.get(name) or ""
            assert target.startswith(("#", "data:")) or target == "", (tag, target)
    assert "@import" not in page
    assert "url(" not in page


def test_identities_are_unique() -> None:
    identities = [
        attributes["id"] for _, attributes in outline(render_page(invented_recommendation())).tags if "id" in attributes
    ]
    assert len(identities) == len(set(identities))


def test_the_first_section_says_schedule_error_and_cautions() -> None:
    advice = invented_recommendation()
    page = render_page(advice)
    first = page[page.index('id="answer"') : page.index('id="pictures"')]
    text = " ".join(outline(f"<section {first.rsplit('<section', 1)[0]}").text.split())
    for age in ("6 h 3 specimens", "12 h 3 specimens", "1 d 3 specimens", "28 d 2 specimens"):
        assert age in text
    assert advice.honest.sentence in text
    for caution in advice.cautions:
        assert caution.code in text
        assert caution.text in text


def test_table_headers_have_a_scope() -> None:
    for tag, attributes in outline(render_page(invented_recommendation())).tags:
        if tag == "th":
            assert attributes.get("scope") in ("col", "row")


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_foreign_text_is_inert(name: str) -> None:
    advice = invented_recommendation(batches=(name,) * 6, title=name)
    parsed = outline(render_page(advice))
    plain = outline(render_page(invented_recommendation()))
    assert [tag for tag, _ in parsed.tags if tag == "script"] == ["script", "script"]
    assert {tag for tag, _ in parsed.tags} == {tag for tag, _ in plain.tags}
    assert not any(key.startswith("on") for _, attributes in parsed.tags for key in attributes)
    assert "\u202e" not in parsed.text
    assert "\x1b" not in parsed.text


def test_the_week_appears_with_a_casting_only() -> None:
    advice = invented_recommendation()
    laboratory = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4))
    times = break_times(advice.recommended.schedule, laboratory, cast_at=dt.datetime(2027, 3, 5, 22, 0))
    assert "figure-week" not in render_page(advice)
    page = render_page(advice, castings=[times], laboratory=laboratory)
    assert 'id="figure-week"' in page
    assert "Cast Fri 05 Mar 2027 22:00" in page


def test_the_page_stays_small() -> None:
    assert len(render_page(invented_recommendation()).encode()) < 1_000_000
