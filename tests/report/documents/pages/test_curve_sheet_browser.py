"""The sheet printed in a real browser: two A4 pages whatever stands on it, nothing cut off, no request, no error.

Skipped only where no Chromium is installed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from planner.issued_curve.calibration.early_correction import PlannedEarly, early_correction
from planner.issued_curve.calibration.expectation import Likeness
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.readings import hours_of, table_of
from planner.issued_curve.rules.acceptance import Verdict
from planner.report.documents.pages.curve_sheet import render_curve_sheet
from planner.report.documents.shown_page import file_shown
from planner.report.text.shown_units import shown_in
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import OutputUnits
from planner.terms.plan.shown_as import ShownAs
from planner.verdict.answers.recommendation.applicability import RECALIBRATE_WHEN
from planner.verdict.wording.cautions.cautions import STANDING
from tests.issued_curve.invented_curves import issued_curve, pour_model
from tests.issued_curve.trial_files import issued
from tests.report.documents.pages.browsers import A4_INCHES, needs_browser, printed_pages

pytestmark = needs_browser

LONG = "Overnight replacement of the panels of the northern runway and its taxiways, stage "


@pytest.fixture(scope="module")
def issue(tmp_path_factory: pytest.TempPathFactory) -> Issue:
    return issued(tmp_path_factory.mktemp("issued"), "T1")


def crowded(issue: Issue) -> Issue:
    """As much as the sheet may have to hold: long names, refused, many lines, many strengths, a long formula."""
    knots = tuple(float(knot) for knot in range(5, 29))
    batch = replace(
        issue.curve.batches[0],
        batch="trial batch of the second week in March",
        parameters=tuple(10.0 + knot for knot in knots),
        parameter_se=(0.5,) * len(knots),
        knots_h=knots,
    )
    curve = replace(
        issue.curve,
        number=104,
        supersedes=103,
        title=LONG * 3,
        mix=LONG * 2,
        geometry="cylinder 150x300 mm, " * 4,
        curve="piecewise linear in log age",
        batches=(batch,) * 5,
        span_h=(5.0, 28.0),
        maturity=MaturitySetting("temperature-time", -11.5, 20.0),
        target_ages_h=(6.0, 7.3, 9.1, 13.7),
        inputs=tuple((f"{LONG}{place}.csv", "sha256:" + "0123456789abcdef" * 4) for place in range(9)),
    )
    assert issue.acceptance is not None
    correction = early_correction(
        issued_curve(target_ages_h=(6.0, 9.1, 13.7), pour_model=pour_model()),
        (
            PlannedEarly(age_h=4.0, n_specimens=2, maturity_h=5.1),
            PlannedEarly(age_h=8.0, n_specimens=1, maturity_h=8.4),
        ),
    )
    assert correction is not None
    return replace(
        issue,
        curve=curve,
        fits=issue.fits * 5,
        others=issue.others * 5,
        expectations=issue.expectations * 5,
        acceptance=replace(issue.acceptance, verdict=Verdict.BREAK_MORE, checks=issue.acceptance.checks * 4),
        table=table_of(curve),
        hours=hours_of(curve, (16.0, 18.0, 20.0, 25.0), (8.0, 20.0, 32.0)),
        has_early_breaks=True,
        early_correction=correction,
        standing_cautions=STANDING,
        recalibrate_when=RECALIBRATE_WHEN,
    )


def spare(issue: Issue) -> Issue:
    """As little as may stand on it: no later-pour error, no companions, no range of temperature."""
    promise = replace(issue.curve.promise, later_rms=None, safe_factor=None)
    curve = replace(issue.curve, promise=promise, temperature_c=None)
    return replace(
        issue,
        curve=curve,
        acceptance=None,
        groups=(),
        alarms=None,
        check_sd=None,
        customary=None,
        table=table_of(curve),
        hours=(),
        recalibrate_when=(),
        cautions=(),
    )


def corrected(issue: Issue) -> Issue:
    """Early breaks of every pour with their table, a stranger: the longest status."""
    return replace(
        issue,
        early_correction=crowded(issue).early_correction,
        expectations=tuple(replace(item, likeness=Likeness.STRANGER) for item in issue.expectations),
        has_early_breaks=True,
        standing_cautions=STANDING,
        recalibrate_when=RECALIBRATE_WHEN,
    )


@pytest.mark.parametrize("units", ["SI", "US"])
@pytest.mark.parametrize(
    "change",
    [lambda issue: issue, crowded, spare, corrected],
    ids=["plain", "crowded", "spare", "corrected"],
)
def test_sheet_prints_on_exactly_two_pages_with_nothing_cut_off(
    browser: Any, issue: Issue, tmp_path: Path, change: Callable[[Issue], Issue], units: OutputUnits
) -> None:
    path = tmp_path / "curve.html"
    with shown_in(ShownAs(units=units)):
        page = file_shown("curve.html", render_curve_sheet(change(issue)).encode("utf-8"))
    assert (b"psi" in page) == (units == "US")
    path.write_bytes(page)
    assert printed_pages(browser, path.as_uri(), A4_INCHES, preferCSSPageSize=True, printBackground=True) == 2
    # the leaf at its printed width: content may not be higher than the page it is cut to
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": round(188 / 25.4 * 96), "height": 1100, "deviceScaleFactor": 1, "mobile": False},
    )
    heights = browser.execute_script(
        "return Array.from(document.querySelectorAll('.leaf'), (leaf) => [leaf.scrollHeight, leaf.clientHeight,"
        " leaf.scrollWidth, leaf.clientWidth])"
    )
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert len(heights) == 2
    for needed, there, wide, width in heights:
        assert needed <= there + 1
        assert wide <= width + 1
    assert browser.get_log("browser") == []


def test_laboratory_part_is_for_the_screen(browser: Any, issue: Issue, tmp_path: Path) -> None:
    path = tmp_path / "curve.html"
    path.write_text(render_curve_sheet(issue), encoding="utf-8")
    browser.get(path.as_uri())
    assert "For the laboratory" in browser.find_element("css selector", "body").text
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    assert "For the laboratory" not in browser.find_element("css selector", "body").text
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


@pytest.mark.parametrize("width", [390, 1280])
def test_sheet_fits_a_screen(browser: Any, issue: Issue, tmp_path: Path, width: int) -> None:
    path = tmp_path / "curve.html"
    path.write_text(render_curve_sheet(crowded(issue)), encoding="utf-8")
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    browser.get(path.as_uri())
    wide = browser.execute_script("return document.documentElement.scrollWidth")
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert wide <= width
