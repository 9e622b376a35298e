"""The page's head and the terminal's first screen, read back: the same figures under the same names, one verdict."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from planner.report.accounts.action_account import leading_cautions
from planner.report.documents.pages.page import render_page
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from
from tests.report.test_renderers_agree import on_terminal

FIGURE = r"\d+(?:\.\d+)? %"


def _good() -> Recommendation:
    advice = invented_recommendation()
    assert advice.honest.next_batch is not None
    later = replace(advice.honest.next_batch, within_tolerance=0.93)
    return replace(advice, honest=replace(advice.honest, next_batch=later))


RESULTS: dict[str, Callable[[], Recommendation]] = {
    "invented": invented_recommendation,
    "good enough": _good,
    "made, priced": lambda: made_from(4, has_prices=True).told,
    "at the floor": lambda: _at_the_floor(),
}


def _at_the_floor() -> Recommendation:
    advice = invented_recommendation()
    assert advice.honest.own_batch is not None
    own = replace(advice.honest.own_batch, is_below_resolution=True)
    return replace(advice, honest=replace(advice.honest, own_batch=own))


def _one_line(text: str) -> str:
    return " ".join(html.unescape(text).replace("\u00a0", " ").split())


def _screen_facts(advice: Recommendation) -> dict[str, str]:
    text = on_terminal(advice, is_full=False)
    return {
        found[1]: _one_line(found[2])
        for found in re.finditer(r"^(Later pour|Own batch|Cost)\s+(.+)$", text, re.MULTILINE)
    }


def _page_figures(advice: Recommendation) -> list[tuple[str, str]]:
    head = render_page(advice).split('class="figures">')[1].split("</dl>")[0]
    return [
        (_one_line(figure), _one_line(meaning))
        for figure, meaning in re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", head, re.DOTALL)
    ]


@pytest.mark.parametrize("name", RESULTS)
def test_errors_names_and_verdict_are_the_same(name: str) -> None:
    found = RESULTS[name]()
    said, shown = _screen_facts(found), _page_figures(found)
    later = re.fullmatch(rf"read ({FIGURE}) off \((.+?)\); ({FIGURE}) (within .+)", said["Later pour"])
    own = re.fullmatch(rf"read ({FIGURE}) off \((.+)\)", said["Own batch"])
    assert later is not None
    assert own is not None
    assert shown[0] == (later[1], f"off on a later pour ({later[2]})")
    assert shown[1] == (later[3], f"of later pours {later[4]}")
    assert shown[2] == (own[1], f"off on the own batch ({own[2]})")
    if name == "at the floor":
        assert "the least these records can resolve" in own[2]
    assert ("NOT GOOD ENOUGH" in shown[1][1]) == (name != "good enough")
    assert shown[1][1].endswith("NOT GOOD ENOUGH" if name != "good enough" else ": good enough")


def test_the_error_with_the_choosing_held_out_never_stands_without_its_name() -> None:
    advice = made_from(6, has_prices=True).told
    assert advice.honest.next_batch is not None
    assert advice.spending is not None
    assert advice.spending.recommended.next_batch is not None
    held_out = f"{100 * advice.honest.next_batch.rms:.1f} %"
    assert held_out != f"{100 * advice.spending.recommended.next_batch.rms:.1f} %"  # else nothing is shown here
    head = _one_line(re.sub(r"<[^>]+>", " ", render_page(advice).split('<h2 id="pictures-heading"')[0]))
    for found in re.finditer(re.escape(held_out), head):
        around = head[max(found.start() - 90, 0) : found.end() + 40]
        assert "choosing held out" in around.lower(), around


@pytest.mark.parametrize("name", RESULTS)
def test_money_and_leading_cautions_are_the_same(name: str) -> None:
    found = RESULTS[name]()
    page = _one_line(re.sub(r"<[^>]+>", " ", render_page(found)))
    screen = _one_line(on_terminal(found, is_full=False))
    sentences = found.spending.helps if found.spending is not None else ()
    for said in (*sentences, *(text for _, text in leading_cautions(found)[0])):
        assert _one_line(said) in page
        assert _one_line(said) in screen


def test_the_hours_of_the_visits_are_the_same() -> None:
    advice = made_from(4, has_prices=True).told
    assert advice.estimate is not None
    assert advice.estimate.break_hours
    page = _one_line(re.sub(r"<[^>]+>", " ", render_page(advice)))
    line = _one_line(on_terminal(advice, is_full=False).split("Come in")[1].split("\nCurve")[0])
    for hour in advice.estimate.break_hours:
        assert f"{hour.starts:%H:%M}" in line
        assert f"{hour.n_specimens} specimens" in page
        assert re.search(rf"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) {hour.starts:%H:%M}", page)
