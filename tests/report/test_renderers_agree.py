"""Page, workbook, terminal, plain text and JSON name the same ages, counts, errors and cautions."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from openpyxl import load_workbook
from rich.console import Console

from planner.report.accounts.brief_account import short_schedule
from planner.report.documents.pages.page import render_page
from planner.report.documents.values.recommendation_document import recommendation_document, write_json
from planner.report.documents.workbook import render_workbook
from planner.report.text.words import first_sentence
from planner.terms.labels import percent, schedule_label
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.invented_result import bare_recommendation, invented_choice, invented_recommendation
from tests.report.pasted_text import render_plain
from tests.report.printed import print_recommendation
from tests.report.real_results import made_from
from tests.report.sheets.test_workbook import SETTINGS


def on_terminal(advice: Recommendation, *, is_full: bool = True) -> str:
    stream = io.StringIO()
    print_recommendation(advice, Console(file=stream, width=400), is_full=is_full)
    return stream.getvalue()


def in_page(advice: Recommendation) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", render_page(advice)))


def in_workbook(advice: Recommendation) -> str:
    book = load_workbook(io.BytesIO(render_workbook(advice, SETTINGS)))
    shown = []
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                is_share = isinstance(cell.value, float) and cell.number_format == "0.0 %"
                shown.append(percent(cell.value) if is_share else str(cell.value))
    return " ".join(shown)


WORDED: dict[str, Callable[[Recommendation], str]] = {
    "terminal": on_terminal,
    "plain": lambda told: render_plain(told, width=400),
    "page": in_page,
    "workbook": in_workbook,
}
RESULTS: dict[str, Callable[[], Recommendation]] = {
    "full": invented_recommendation,
    "bare": bare_recommendation,
    "other": lambda: replace(
        invented_recommendation(),
        recommended=invented_choice(ChoiceRole.RECOMMENDED, (8.0, 48.0, 168.0), (2, 2, 3), 0.0567),
        enough=invented_choice(ChoiceRole.ENOUGH, (12.0, 168.0), (2, 2), 0.0789),
    ),
    "engine, one batch": lambda: made_from(1).told,
    "engine, priced": lambda: made_from(4, has_prices=True).told,
}


@pytest.mark.parametrize("build", RESULTS.values(), ids=RESULTS)
@pytest.mark.parametrize("render", WORDED.values(), ids=WORDED)
def test_every_wording_says_the_same(
    render: Callable[[Recommendation], str], build: Callable[[], Recommendation]
) -> None:
    found = build()
    text = " ".join(render(found).replace("\u00a0", " ").split())
    named = (found.recommended, found.best, found.enough, found.customary, found.equal_gain, *found.compared)
    for choice in named:
        if choice is not None:
            assert schedule_label(choice.schedule) in text
            assert percent(choice.error.rms) in text
    assert f"{found.recommended.schedule.n_specimens} specimens" in text
    assert " ".join(found.honest.sentence.split()) in text
    for caution in found.cautions:
        assert caution.code in text
        assert caution.text in text
    for standing in found.standing_cautions:
        assert standing in text


@pytest.mark.parametrize("build", RESULTS.values(), ids=RESULTS)
def test_the_short_account_says_nothing_else(build: Callable[[], Recommendation]) -> None:
    found = build()
    text = " ".join(on_terminal(found, is_full=False).replace("\u00a0", " ").split())
    assert schedule_label(found.recommended.schedule) in text
    for choice in (found.recommended, found.best, found.enough, found.customary, found.equal_gain, *found.compared):
        if choice is not None:
            assert short_schedule(choice.schedule) in text
            assert percent(choice.error.rms) in text
    assert " ".join(found.honest.sentence.split()) in text
    for place, caution in enumerate(found.cautions):
        is_told = first_sentence(caution.text) in text
        assert is_told == (place < found.n_leading_cautions)
    if len(found.cautions) > found.n_leading_cautions:
        assert f"{len(found.cautions) - found.n_leading_cautions} more caution" in text
    for standing in found.standing_cautions:
        assert standing in text


@pytest.mark.parametrize("build", RESULTS.values(), ids=RESULTS)
def test_the_document_holds_what_the_wordings_say(build: Callable[[], Recommendation]) -> None:
    found = build()
    document = recommendation_document(found)
    assert write_json(document)
    assert tuple(document["recommended"]["ages_h"]) == found.recommended.schedule.ages_h
    assert tuple(document["recommended"]["specimens"]) == found.recommended.schedule.specimens
    assert document["recommended"]["error"]["rms"] == found.recommended.error.rms
    assert document["honest"]["sentence"] == found.honest.sentence
    assert [(item["code"], item["text"]) for item in document["cautions"]] == [
        (caution.code, caution.text) for caution in found.cautions
    ]
    assert document["standing_cautions"] == list(found.standing_cautions)
