"""The page in a real browser: loads from disk without a request, reacts, prints, and reads well aloud.

Skipped only where no Chromium is installed. The browser starts with an empty profile.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from planner.report.documents.pages.page import render_page
from tests.report.documents.pages.browsers import A4_INCHES, LETTER_INCHES, needs_browser, printed_pages
from tests.report.invented_result import HOSTILE_NAMES, bare_recommendation, invented_recommendation

pytestmark = needs_browser


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("pages")
    results = {
        "full": invented_recommendation(),
        "bare": bare_recommendation(),
        "hostile": invented_recommendation(batches=HOSTILE_NAMES, title=HOSTILE_NAMES[0]),
    }
    addresses = {}
    for name, found in results.items():
        path: Path = folder / f"{name}.html"
        path.write_text(render_page(found), encoding="utf-8")
        addresses[name] = path.as_uri()
    return addresses


def choose(browser: Any, identity: str, value: str) -> None:
    browser.execute_script(
        "const field = document.querySelector(arguments[0]); field.value = arguments[1];"
        "field.dispatchEvent(new Event('input', {bubbles: true}));",
        identity,
        value,
    )


def shown_rows(browser: Any) -> list[str]:
    rows = browser.execute_script(
        "return Array.from(document.querySelectorAll('#what-if-table tbody tr'), (row) => row.innerText)"
    )
    return [re.sub(r"\s+", " ", row) for row in rows]


def status(browser: Any) -> str:
    return str(browser.execute_script("return document.getElementById('what-if-status').textContent"))


@pytest.mark.parametrize("name", ["full", "bare", "hostile"])
def test_it_loads_without_errors_and_asks_nothing_of_the_network(
    browser: Any, pages: dict[str, str], name: str
) -> None:
    browser.get_log("performance")
    browser.get_log("browser")
    browser.get(pages[name])
    asked = [
        message["params"]["request"]["url"]
        for entry in browser.get_log("performance")
        if (message := json.loads(entry["message"])["message"])["method"] == "Network.requestWillBeSent"
        and message["params"]["documentURL"] == pages[name]  # not the tab that the browser opens by itself
    ]
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert pages[name] in asked
    assert browser.get_log("browser") == []


def test_limits_change_the_table_at_once(browser: Any, pages: dict[str, str]) -> None:
    browser.get(pages["full"])
    everything = status(browser)
    assert len(shown_rows(browser)) == 12
    choose(browser, "#limit-specimens", "8")
    fewer = shown_rows(browser)
    assert status(browser) != everything
    assert all(sum(map(int, re.findall(r"x(\d+)", row))) <= 8 for row in fewer)
    choose(browser, "#limit-ages select[data-age='0']", "not")
    assert not any(row.startswith("4 h") for row in shown_rows(browser))
    choose(browser, "#limit-ages select[data-age='3']", "must")
    assert all("12 h x" in row for row in shown_rows(browser))
    assert all(row.count(" x") <= 4 for row in shown_rows(browser))
    choose(browser, "#limit-visits", "2")  # in these records every schedule has one visit less than it has ages
    assert {row.count(" x") for row in shown_rows(browser)} == {3}
    choose(browser, "#limit-cost", "750")
    assert all(float(re.findall(r"(\d+) EUR", row)[0]) <= 750 for row in shown_rows(browser))
    choose(browser, "#limit-age", "6")
    assert not any("28 d" in row for row in shown_rows(browser))
    assert shown_rows(browser)


def test_limits_that_nothing_keeps_are_told_and_can_be_taken_away(browser: Any, pages: dict[str, str]) -> None:
    browser.get(pages["full"])
    before = shown_rows(browser)
    choose(browser, "#limit-specimens", "1")
    assert shown_rows(browser) == []
    assert "No embedded schedule keeps these limits" in status(browser)
    browser.execute_script("document.getElementById('limit-reset').click()")
    assert shown_rows(browser) == before


@pytest.mark.parametrize("paper", [A4_INCHES, LETTER_INCHES])
def test_it_prints_on_the_papers_of_the_world(browser: Any, pages: dict[str, str], paper: tuple[float, float]) -> None:
    assert 3 <= printed_pages(browser, pages["full"], paper) <= 12


@pytest.mark.parametrize("width", [320, 390, 820])
def test_a_narrow_screen_never_scrolls_sideways(browser: Any, pages: dict[str, str], width: int) -> None:
    size = {"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": True}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    try:
        for name in ("full", "hostile"):
            browser.get(pages[name])
            assert browser.execute_script("return document.documentElement.scrollWidth") <= width
    finally:
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["full", "bare", "hostile"])
def test_nothing_serious_stands_in_a_readers_way(browser: Any, pages: dict[str, str], name: str, scheme: str) -> None:
    import axe_core_python as axe

    source = (Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    feature = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", feature)
    try:
        browser.get(pages[name])
        browser.execute_script(source)
        found = browser.execute_async_script("axe.run().then(arguments[arguments.length - 1])")
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    serious = [
        (item["id"], [node["html"][:160] for node in item["nodes"][:3]])
        for item in found["violations"]
        if item["impact"] in ("serious", "critical")
    ]
    assert serious == []
    assert len(found["passes"]) > 10
