"""Words that may stand on no output: untrue ones, ones that could mislead at night, and second names of one thing."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from openpyxl import load_workbook

from planner.after_casting.site_checking import check_pours
from planner.evidence.record_summary import tell_story
from planner.read import load_plan
from planner.report.accounts.after_casting.curve_account import curve_account
from planner.report.accounts.after_casting.pour_account import pour_account
from planner.report.accounts.after_casting.site_checks_account import site_checks_account
from planner.report.accounts.minimum_account import minimum_account
from planner.report.accounts.price.price_account import price_account
from planner.report.accounts.records_account import story_account
from planner.report.documents.estimate_workbook import render_estimate_workbook
from planner.report.documents.pages.after_casting_pages import render_pour, render_site_checks
from planner.report.documents.pages.clause_page import render_clause
from planner.report.documents.pages.curve_sheet import render_curve_sheet
from planner.report.documents.pages.estimate_page import render_estimate
from planner.report.documents.pages.testing_room import render_testing_room
from planner.report.documents.values.recommendation_document import recommendation_document, write_json
from planner.report.text.plain_blocks import plain_sections
from planner.starter import STARTER, starter_files
from planner.sweeping.sweep_rows import row_of
from planner.sweeping.sweep_table import sweep_csv, sweep_section
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.wording.cautions.cautions import STANDING
from tests.after_casting.test_check_pours import checks, curve, rows
from tests.after_casting.test_read_pour import FOUR_HOURS, answer_of, record
from tests.issued_curve.trial_files import issued, runway_plan
from tests.report.documents.test_calendar import times as calendar_times
from tests.report.documents.test_calendar import written as calendar_written
from tests.report.invented_answers import invented_minimum, invented_price
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from
from tests.report.sheets.test_workbook import SETTINGS
from tests.report.test_renderers_agree import RESULTS, WORDED, on_terminal
from tests.verdict.wording.test_safe_reading_words import SCENARIOS

FORBIDDEN = {
    r"\brel(y|ied|ying) on\b|wait until|wait factor": "safe reading, safe-reading factor",
    r"\bpress\b": "testing machine",
    r"shape factor": "length/diameter correction",
    r"in the winner": "how often in the best schedule",
    r"\blater batch|\bnew batch\b|next batch\b": "own batch, later pour",
    r"20 MPa wait": "no strength but the plan's own",
    r"lie within 1\d\d(\.\d)? %": "no useful bound",
    r"ettringite[^.]*65 C[^.]*EN 13670": "65 C is EN 13369",
    r"\b(1|one) (schedules|specimens are|visits|batches are|rows are|ages are)\b": "one is one",
    r"truth was mixed specimens": "what the truth was measured on",
    r"water meets cement": "the plan's own age zero",
    r"will be about": "which of the two errors it is",
}

SOURCE_KEYS = r'"(next_batch|safe_reading_basis|basis)[^,]*'  # names and values of keys, which stay


def as_json(advice: Recommendation) -> str:
    return re.sub(SOURCE_KEYS, "", write_json(recommendation_document(advice)))


def questions() -> str:
    """Invented answers of price and minimum; those of every scenario are looked at in test_scenario_outputs.py."""
    parts = (*price_account(invented_price()), *minimum_account(invented_minimum()))
    return plain_sections(parts, width=400)


def _page_text(page: str) -> str:
    bare = re.sub(r"<(style|script|svg).*?</\1>", " ", page, flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", " ", bare))


def _cells(content: bytes) -> str:
    book = load_workbook(io.BytesIO(content))
    return " ".join(str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row if cell.value)


@cache
def _checks_page(which: str) -> str:
    with TemporaryDirectory() as name:
        folder = Path(name)
        if which == "curve sheet":
            issue = issued(folder, "T1")
            return _page_text(render_curve_sheet(issue)) + plain_sections(curve_account(issue))
        if which == "pour":
            answer = answer_of(folder, *FOUR_HOURS, site=record(25.0))
            return _page_text(render_pour(answer, standing=STANDING)) + plain_sections(pour_account(answer))
        given = checks(folder, rows("P1", 20.0, 0.95), rows("P2", 24.0, 0.80, required_mpa=30.0))
        judged = check_pours(runway_plan(), curve(), given)
        return _page_text(render_site_checks(judged, standing=STANDING)) + plain_sections(site_checks_account(judged))


def _calendar() -> str:
    advice = invented_recommendation()
    text = calendar_written(calendar_times(schedule=advice.recommended.schedule)).decode("utf-8")
    return text.replace("\r\n ", "") * 3  # short, and all of it looked at


def _checked_records() -> str:
    plan = load_plan(SCENARIOS / "runway-panels" / "plan.toml")
    targets = tuple(zip(plan.settings.target.ages_h, plan.settings.target.waits_mpa, strict=True))
    return plain_sections(story_account(tell_story(plan.records, targets=targets), title=plan.settings.title))


def _swept() -> str:
    made = made_from(4, has_prices=True)
    row = row_of("plan.toml", load_plan(STARTER / "plan.toml"), made.told)
    section = sweep_section([row] * 8)
    return plain_sections((section,)) + sweep_csv([row] * 4)


FILES: dict[str, Callable[[], str]] = {
    "testing room": lambda: _page_text(render_testing_room(made_from(4, has_prices=True).told, SETTINGS)),
    "calendar": _calendar,
    "clause": lambda: _page_text(render_clause(invented_minimum().clause, title="a clause")),
    "estimate page": lambda: _page_text(render_estimate(invented_price(), price_account(invented_price()))),
    "estimate workbook": lambda: _cells(render_estimate_workbook(invented_price())) * 2,
    "check": _checked_records,
    "sweep": _swept,
    "every key of a plan": lambda: starter_files(is_full=True)["plan.toml"].decode("utf-8"),
    "curve sheet": lambda: _checks_page("curve sheet"),
    "pour": lambda: _checks_page("pour"),
    "site checks": lambda: _checks_page("site checks"),
}

OUTPUTS: dict[str, Callable[[], str]] = {
    f"{shape}, {name}": lambda render=render, build=build: render(build())  # type: ignore[misc]
    for shape, render in {
        **WORDED,
        "short": lambda told: on_terminal(told, is_full=False),
        "JSON": as_json,
    }.items()
    for name, build in RESULTS.items()
}
OUTPUTS["price and minimum"] = questions
OUTPUTS.update(FILES)


@pytest.mark.parametrize("output", OUTPUTS.values(), ids=OUTPUTS)
def test_no_forbidden_word(output: Callable[[], str]) -> None:
    text = " ".join(output().replace("\u00a0", " ").split())
    assert len(text) > 900
    for pattern, instead in FORBIDDEN.items():
        found = re.search(pattern, text, re.IGNORECASE)
        assert found is None, f"{text[max(found.start() - 40, 0) : found.end() + 40]!r}: say {instead}"


@pytest.mark.parametrize("build", RESULTS.values(), ids=RESULTS)
def test_equal_gain_is_explained_where_it_stands(build: Callable[[], Recommendation]) -> None:
    found = build()
    text = " ".join(on_terminal(found, is_full=False).replace("\u00a0", " ").split())
    assert ("equal gain" in text) == (found.equal_gain is not None)
    assert ("equal gain: ages spaced for equal strength steps" in text) == (found.equal_gain is not None)
