"""The page for the testing room: order, windows, expected strengths and loads by hand; text stays text."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from html import unescape
from math import exp, log, pi, sqrt
from statistics import fmean, stdev

import pytest

from planner.laboratory.clock.break_times import break_times
from planner.report.documents.pages.testing_room import render_testing_room
from planner.report.sheets.expected_strength import expected_at
from planner.terms.plan.settings import Laboratory
from planner.terms.results.recommended.plotted_points import GrowthPoint
from tests.report.invented_result import HOSTILE_NAMES, bare_recommendation, invented_recommendation
from tests.report.sheets.test_workbook import SETTINGS


def growth(*strengths: float, curing: str = "standard") -> tuple[GrowthPoint, ...]:
    return tuple(
        GrowthPoint(batch=f"B{place}", curing=curing, age_h=12.0, maturity_h=12.0, strength_mpa=mpa, n_specimens=3)
        for place, mpa in enumerate(strengths)
    )


def test_expected_strength_and_load_by_hand() -> None:
    found = expected_at(growth(18.0, 20.0, 22.0, 25.0), age_h=12.0, curing="standard", geometry="cylinder 100x200 mm")
    assert found is not None
    logs = [log(mpa) for mpa in (18.0, 20.0, 22.0, 25.0)]
    spread = 2 * stdev(logs) * sqrt(1.25)
    assert found.strength_mpa == pytest.approx(exp(fmean(logs)))
    assert found.low_mpa == pytest.approx(exp(fmean(logs) - spread))
    assert found.high_mpa == pytest.approx(exp(fmean(logs) + spread))
    # 100 mm across: 7854 mm2; 1 MPa is 7.854 kN
    assert found.load_kn == pytest.approx(found.strength_mpa * pi * 100**2 / 4 / 1000)
    assert found.high_kn == pytest.approx(found.high_mpa * pi * 100**2 / 4 / 1000)
    cube = expected_at(growth(20.0), age_h=12.0, curing="standard", geometry="cube 150 mm")
    assert cube is not None
    assert (cube.load_kn, cube.low_kn) == (pytest.approx(20.0 * 22.5), None)


def test_ages_and_curings_that_no_batch_had_expect_nothing() -> None:
    points = growth(18.0, 20.0, 22.0)
    assert expected_at(points, age_h=13.0, curing="standard", geometry="") is None
    assert expected_at(points, age_h=12.0, curing="site", geometry="") is None
    found = expected_at(points, age_h=12.0, curing="standard", geometry="")
    assert found is not None
    assert found.load_kn is None


def test_companions_are_expected_by_all_places_on_site() -> None:
    cool, warm = growth(10.0, 11.0, 12.0, curing="cool night"), growth(20.0, 22.0, 24.0, curing="warm night")
    others = (*growth(50.0, 60.0), *growth(70.0, curing="heat"))
    found = expected_at((*cool, *warm, *others), age_h=12.0, curing="site", geometry="cylinder 100x200 mm")
    assert found is not None
    logs = [log(mpa) for mpa in (10.0, 11.0, 12.0, 20.0, 22.0, 24.0)]
    assert found.strength_mpa == pytest.approx(exp(fmean(logs)))
    assert found.low_mpa == pytest.approx(exp(fmean(logs) - 2 * stdev(logs) * sqrt(1 + 1 / 6)))


def rows_of(page: str) -> list[str]:
    body = page[page.index("<tbody>") : page.rindex("</tbody>")]
    return [
        re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", row.replace("</bdi>", "")))).replace("\u00a0", " ").strip()
        for row in re.findall(r"<tr.*?</tr>", body, flags=re.S)
    ]


def test_what_is_broken_in_one_turn_is_one_group_that_no_page_parts() -> None:
    page = render_testing_room(invented_recommendation(), SETTINGS)
    groups = re.findall(r"<tbody>.*?</tbody>", page, flags=re.S)
    assert [len(re.findall(r'class="label"', group)) for group in groups] == [3, 3, 3, 3, 3, 2]
    assert all('scope="row"' in group and group.count('scope="row"') == 1 for group in groups)
    printed = page[page.rindex("@media print") : page.index("</style>")]
    assert re.search(r"\.turns tbody \{[^}]*break-inside: avoid", printed)
    assert re.search(r"\.turns \{[^}]*break-inside: auto", printed), "else the whole table moves to the next sheet"


def test_breaks_stand_in_order_of_age_with_their_windows() -> None:
    advice = invented_recommendation()
    rows = rows_of(render_testing_room(advice, SETTINGS))
    # 11 specimens of the schedule 6 h, 12 h, 1 d, 28 d and companions on site at 6 h and 1 d
    assert len(rows) == 11 + 6
    firsts = [row.split(" ")[0:2] for row in rows if re.match(r"\d+ [hd] ", row)]
    assert firsts == [["6", "h"], ["6", "h"], ["12", "h"], ["1", "d"], ["1", "d"], ["28", "d"]]
    standard = [point.strength_mpa for point in advice.growth if (point.curing, point.age_h) == ("standard", 6.0)]
    assert f"{exp(fmean(map(log, standard))):.0f} MPa (" in rows[0]
    assert "trial-1, standard" in rows[0]
    assert "trial-1, site" in rows[3]
    assert "23.50 to 24.50 h" in next(row for row in rows if row.startswith("1 d") and "standard" in row)


def test_with_a_casting_they_stand_on_the_clock() -> None:
    advice = invented_recommendation()
    times = break_times(
        advice.recommended.schedule, Laboratory(time_zone="Europe/Oslo"), cast_at=dt.datetime(2027, 3, 1, 22, 0)
    )
    rows = rows_of(render_testing_room(advice, SETTINGS, castings=(times,)))
    assert rows[0].startswith("Tue 02 Mar 2027 04:00 (6 h)")
    dated = [row for row in rows if re.match(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) ", row)]
    moments = [dt.datetime.strptime(" ".join(row.split(" ")[1:5]), "%d %b %Y %H:%M") for row in dated]
    assert moments == sorted(moments)


def test_foreign_text_stays_text() -> None:
    for name in HOSTILE_NAMES:
        advice = invented_recommendation(title=name)
        page = render_testing_room(replace(advice, valid_for=replace(advice.valid_for, mix=name)), SETTINGS)
        assert "<script" not in page
        assert "\u202e" not in page
    assert "Testing room" in render_testing_room(bare_recommendation(), SETTINGS)
