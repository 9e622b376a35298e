"""Pages read back block by block: every heading, term, statement, row, mark and note of an account, in its order."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from planner.after_casting.site_checking import check_pours
from planner.laboratory.clock.break_slots import BreakSlot
from planner.laboratory.clock.break_times import break_times
from planner.report.accounts.after_casting.curve_account import curve_account
from planner.report.accounts.after_casting.pour_account import pour_account
from planner.report.accounts.after_casting.site_checks_account import site_checks_account
from planner.report.accounts.full_account import answer_facts, recommendation_account
from planner.report.accounts.parts.glossary_account import glossary_section
from planner.report.documents.pages.after_casting_pages import render_pour, render_site_checks
from planner.report.documents.pages.curve_sheet import render_curve_sheet
from planner.report.documents.pages.page import render_page
from planner.report.documents.pages.page_headline import first_screen
from planner.report.figures import all_plots
from planner.report.figures.after_casting.issued_curve import bias_plots
from planner.report.figures.after_casting.pour_reading_chart import pour_plot
from planner.report.figures.after_casting.site_check_chart import checks_plot
from planner.report.figures.drawing.plot import Plot
from planner.report.text.blocks import Bullets, Facts, Paragraph, Section, SectionId, Table
from planner.report.text.words import judges_words
from planner.terms.labels import age_label
from planner.terms.plan.settings import Laboratory
from tests.after_casting.test_check_pours import checks, curve, rows
from tests.after_casting.test_read_pour import FOUR_HOURS, answer_of, record
from tests.issued_curve.trial_files import issued, runway_plan
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from

Part = tuple[Any, ...]
STANDING = ("Local codes decide.", "Sensors go where concrete is coldest.")


class _Parts(HTMLParser):
    """What stands on a page, part by part, in the order of its text."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[Part] = []
        self._text, self._kind, self._term = "", "", ""
        self._is_head = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        kind = dict(attrs).get("class") or ""
        if tag == "table":
            self.parts.append(("table", [], [], []))
        elif tag == "dl":
            self.parts.append(("facts", []))
        elif tag in ("ul", "ol"):
            self.parts.append(("bullets", []))
        elif tag == "thead":
            self._is_head = True
        elif tag == "tr" and not self._is_head:
            self.parts[-1][2].append([])
            self.parts[-1][3].append(kind == "marked")
        if tag in ("h1", "h2", "h3", "p", "th", "td", "dt", "dd", "li", "figcaption"):
            self._text, self._kind = "", kind

    def handle_data(self, data: str) -> None:
        self._text += data

    def handle_endtag(self, tag: str) -> None:
        text = plain(self._text)
        if tag == "thead":
            self._is_head = False
        elif tag in ("h1", "h2", "h3", "figcaption"):
            self.parts.append(("heading" if tag != "figcaption" else tag, text))
        elif tag == "p":
            self.parts.append((self._kind or "paragraph", text))
        elif tag in ("th", "td"):
            (self.parts[-1][1] if self._is_head else self.parts[-1][2][-1]).append(text)
        elif tag == "dt":
            self._term = text
        elif tag == "dd":
            self.parts[-1][1].append((self._term, text))
        elif tag == "li":
            self.parts[-1][1].append(text)


def plain(text: str) -> str:
    return " ".join(text.replace("\xa0", " ").split())


def parts_of(page: str) -> list[Part]:
    reader = _Parts()
    reader.feed(re.sub(r"<(style|svg|script).*?</\1>", " ", page, flags=re.DOTALL))
    return reader.parts


def told(sections: Sequence[Section]) -> list[Part]:
    """The parts that an account asks for; the picture of ages in letters is for screens."""
    found: list[Part] = []
    for section in sections:
        found.append(("heading", plain(section.heading)))
        for block in section.blocks:
            match block:
                case Paragraph(text, is_strong):
                    found.append(("sentence" if is_strong else "paragraph", plain(text)))
                case Facts(pairs):
                    found.append(("facts", [(plain(term), plain(said)) for term, said in pairs]))
                case Bullets(items):
                    found.append(("bullets", [plain(item) for item in items]))
                case Table(columns=columns, rows=lines, n_marked=n_marked, note=note):
                    cells = [[plain(cell) for cell in line] for line in lines]
                    is_marked = [place < n_marked for place in range(len(lines))]
                    found.append(("table", [plain(column.heading) for column in columns], cells, is_marked))
                    found += [("note", plain(note))] if note else []
    return found


def pictured(plots: Sequence[Plot]) -> list[Part]:
    found: list[Part] = []
    for plot in plots:
        found.append(("heading", plain(plot.title)))
        found += [("figcaption", plain(plot.caption))] if plot.caption else []
    return found


def test_every_block_of_the_account_stands_on_the_page() -> None:
    advice = invented_recommendation()
    page = render_page(advice)
    first, rest = page.split('<section id="pictures"')
    pictures, rest = rest.split('<section id="what-if"')
    rest = rest[rest.index('<section aria-labelledby="section-1"') : rest.index("<footer>")]
    told_below = tuple(
        section
        for section in recommendation_account(advice)
        if section.id not in (SectionId.ANSWER, SectionId.CAUTIONS)
    )
    wanted = told((*told_below, glossary_section()))
    assert parts_of("<section " + rest) == wanted
    assert any(part[0] == "table" and any(part[3]) for part in wanted)
    assert parts_of("<section " + pictures)[1:] == pictured(all_plots(advice))
    facts = ("facts", [(plain(term), plain(said)) for term, said in answer_facts(advice)])
    assert parts_of(first).count(facts) == 1


def test_the_laboratorys_part_of_the_curve_sheet(tmp_path: Path) -> None:
    issue = issued(tmp_path, "T1")
    below = parts_of(render_curve_sheet(issue).split('<div class="laboratory">')[1])
    account = told(curve_account(issue))
    assert below[1 : 1 + len(account)] == account
    pictures = below[1 + len(account) :]
    assert pictures[: 2 * len(bias_plots(issue))] == pictured(bias_plots(issue))


def test_a_pour(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *FOUR_HOURS, site=record(25.0))
    assert_stands(render_pour(answer, standing=STANDING), pour_account(answer), pour_plot(answer))


def test_site_checks(tmp_path: Path) -> None:
    listed = [rows("P1", 20.0, 0.95), rows("P2", 24.0, 0.76, required_mpa=19.5), rows("P3", 22.0, 1.04)]
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, *listed))
    assert_stands(render_site_checks(answer, standing=STANDING), site_checks_account(answer), checks_plot(answer))


def assert_stands(page: str, sections: Sequence[Section], plot: Plot) -> None:
    """The first section, the picture, the other sections, and what stands on every output."""
    body = parts_of(page[page.index("<main>") :])
    wanted = [*told(sections[:1]), *pictured([plot]), *told(sections[1:]), ("paragraph", " ".join(STANDING))]
    assert body == wanted


def test_the_first_screen_part_by_part() -> None:
    """With a casting on a Friday night, so that breaks fall outside hours."""
    advice = invented_recommendation()
    laboratory = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo")
    times = break_times(advice.recommended.schedule, laboratory, cast_at=dt.datetime(2027, 3, 5, 22, 0))
    page = render_page(advice, castings=[times], laboratory=laboratory)
    shown = first_screen(advice, [times])
    assert len(advice.cautions) == 2
    assert advice.n_leading_cautions == 1
    first, second = [("facts", [(item.code, plain(item.text))]) for item in advice.cautions]

    def line(slot: BreakSlot) -> str:
        said = f"{age_label(slot.age_h)} {slot.n_specimens} specimens {slot.starts_at:%a %d %b, %H:%M}"
        said += "" if slot.is_inside_hours else ", outside hours"
        return said + (f", moved into hours from {slot.due_at:%a %d %b, %H:%M}" if slot.is_moved else "")

    assert {slot.is_inside_hours for slot in times.slots} == {True, False}
    wanted = [
        ("heading", "Recommended schedule"),
        ("heading", "What to cast"),
        ("paragraph", plain(f"{shown.cast}. Cost {shown.cost}")),
        ("heading", "When to come in"),
        ("bullets", [line(slot) for slot in times.slots]),
        ("note", plain(shown.visits)),
        ("heading", "How far to trust it"),
        ("facts", [(plain(figure), plain(meaning)) for figure, meaning in shown.figures]),
        ("sentence", plain(advice.honest.sentence)),
        ("heading", "Before using it"),
        first,
        ("paragraph", "1 more below"),
        ("facts", [(plain(term), plain(said)) for term, said in answer_facts(advice)]),
        ("heading", "More to mind"),
        second,
        ("bullets", [plain(text) for text in advice.standing_cautions]),
    ]
    assert parts_of(page[page.index('<section id="answer"') : page.index('<section id="pictures"')]) == wanted


def test_how_many_schedules_are_embedded_and_what_their_errors_are() -> None:
    plain_advice = invented_recommendation()
    advice = replace(plain_advice, choices=replace(plain_advice.choices, n_in_search=98_765))
    page = render_page(advice)
    text = plain(re.sub(r"<[^>]+>", " ", page))
    assert f"out of {len(advice.choices.schedules)} of the 98765 scored ones" in text
    assert f"The errors are those on {plain(judges_words(advice))}, not corrected for the search" in text
    search = advice.search
    assert search.seed != search.n_draws
    assert f"seed {search.seed}, {search.n_draws} draws" in text


def test_what_helps_and_where_it_stands() -> None:
    advice = made_from(4, has_prices=True).told
    page = render_page(advice)
    first = page[page.index('<section id="answer"') : page.index('<section id="pictures"')]
    helps = first_screen(advice, []).money
    assert helps
    assert ("bullets", [plain(text) for text in helps]) in parts_of(first)
    (place,) = re.findall(r'href="#section-(\d+)"', first)
    (linked,) = re.findall(rf'<h2 id="section-{place}"><bdi>(.*?)</bdi>', page)
    (wanted,) = [section.heading for section in recommendation_account(advice) if section.id is SectionId.ENOUGH]
    assert linked == wanted
