"""A browser for the pages, how it starts and how it prints."""

from __future__ import annotations

import base64
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
DRIVER = shutil.which("chromedriver")
SWITCHES = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync", "--no-first-run"),
)
DRAWN = "const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(done))"
A4_INCHES, LETTER_INCHES = (8.27, 11.69), (8.5, 11.0)

needs_browser = pytest.mark.skipif(BROWSER is None or DRIVER is None, reason="no Chromium with its driver here")


@contextmanager
def started(profile: Path) -> Iterator[Any]:
    """A browser with an empty profile in that folder, which logs what it asks for and what goes wrong."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    for switch in SWITCHES:
        options.add_argument(switch)
    options.add_argument(f"--user-data-dir={profile}")
    options.binary_location = BROWSER
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    try:
        yield driver
    finally:
        driver.quit()


def printed_pages(browser: Any, address: str, paper: tuple[float, float], **how: bool) -> int:
    """How many pages the document at that address fills on paper of that width and height, inches."""
    browser.get(address)
    # A page that is loaded and not drawn yet prints wrongly now and then ("Printing failed", or one page of two): 14 of
    # 300 did, none of 600 that had been drawn.
    browser.execute_async_script(DRAWN)
    asked = {"paperWidth": paper[0], "paperHeight": paper[1], **how}
    content = base64.b64decode(browser.execute_cdp_cmd("Page.printToPDF", asked)["data"])
    assert content.startswith(b"%PDF")
    return len(re.findall(rb"/Type\s*/Page\b", content))
