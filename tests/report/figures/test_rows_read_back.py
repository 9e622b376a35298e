"""Pictures with named rows, read by their rows and grid lines: compared schedules, and the breaks on the clock."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from planner.laboratory.clock.break_times import break_times
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.figures import all_plots
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.figures.week import week_plot
from planner.terms.plan.settings import Laboratory
from planner.terms.schedule import Schedule
from tests.report.drawn_values import NAME, Drawn, Grid
from tests.report.invented_result import invented_recommendation
from tests.report.sheets.test_workbook_read_back import schedule, shown_choices

NEAR_PX = 0.11  # a tenth of a pixel is the last digit drawn
UNIT_H = {"h": 1.0, "d": 24.0}
SHORTEST = Laboratory(
    opens=dt.time(7, 30), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo",
    closed=(dt.date(2027, 3, 2),),
)  # fmt: skip


def dots(shown: Drawn) -> list[tuple[float, float, float, str]]:
    """Place, radius [px] and hint of every dot in the picture; those of the key have no hint."""
    circles = [element for element in shown.elements if element.tag == f"{NAME}circle"]
    hints = [element.findtext(f"{NAME}title", "") for element in circles]
    return [
        (float(one.attrib["cx"]), float(one.attrib["cy"]), float(one.attrib["r"]), hint)
        for one, hint in zip(circles, hints, strict=True)
        if hint
    ]


def notes_beside(shown: Drawn) -> list[tuple[float, float, str]]:
    return [
        (float(element.attrib["x"]), float(element.attrib["y"]), element.text or "")
        for element in shown.elements
        if element.get("class", "").startswith("note")
    ]


def place_of_age(age_h: float, grid: Grid) -> float:
    """Where an age stands on the logarithmic line [px]."""
    named = [(at, name.split()) for at, name in grid if name]
    hours = [float(number) * UNIT_H[unit] for _, (number, unit) in named]
    slope, start = np.polyfit(np.log(hours), [at for at, _ in named], 1)
    return float(slope * math.log(age_h) + start)


def test_every_compared_schedule_has_its_ages_counts_and_error_in_its_row() -> None:
    document = recommendation_document(invented_recommendation())
    (plot,) = (plot for plot in all_plots(invented_recommendation()) if plot.name == "schedules")
    shown = Drawn.of(draw_svg(plot))
    choices = shown_choices(document)
    assert [name for _, name in shown.up] == [name for name, _ in choices]
    wanted = [
        (place_of_age(age, shown.across), height, n, f"{item['label']}: {text}")
        for (height, _), (_, item) in zip(shown.up, choices, strict=True)
        for age, n, text in zip(item["ages_h"], item["specimens"], schedule(item).split(", "), strict=True)
    ]
    found = dots(shown)
    assert [hint for *_, hint in found] == [hint for *_, hint in wanted]
    per_specimen = found[0][2] ** 2 / wanted[0][2]  # area of a dot
    for (x, y, radius, _), (across, up, n, hint) in zip(found, wanted, strict=True):
        assert (x, y) == pytest.approx((across, up), abs=0.3), hint
        assert radius == pytest.approx(math.sqrt(per_specimen * n), abs=NEAR_PX), hint
    errors = [(y, text) for x, y, text in notes_beside(shown) if x > max(at for at, _ in shown.across)]
    for (height, _), (y, text), (_, item) in zip(shown.up, errors, choices, strict=True):
        assert abs(y - height) < 6.0
        assert text == f"{100 * item['error']['rms']:.1f} %"
    low, high = min(at for at, _ in shown.up), max(at for at, _ in shown.up)
    targets = shown.points("line tone-second dashed")
    for (start, end), target in zip(targets, document["targets"], strict=True):
        assert [start[0], end[0]] == pytest.approx([place_of_age(target["age_h"], shown.across)] * 2, abs=0.3)
        assert min(start[1], end[1]) < low < high < max(start[1], end[1])  # through every row
    described = "; ".join(
        f"{name}: {schedule(item)}, error {100 * item['error']['rms']:.1f} %" for name, item in choices
    )
    assert plot.description.startswith(f"{described}.")
    assert plot.caption.startswith("Larger dots are more specimens. At the end of each row: RMS error on ")


def hour_places(shown: Drawn, clock: dt.datetime | dt.time) -> float:
    """Where a time of day stands [px], by the named grid lines."""
    hours = [float(name.split(":")[0]) for _, name in shown.across]
    slope, start = np.polyfit(hours, [at for at, _ in shown.across], 1)
    return float(slope * (clock.hour + clock.minute / 60.0) + start)


def test_every_break_stands_on_its_day_at_its_hour_with_its_window() -> None:
    """Cast on a Monday at 22:20 with the Tuesday closed; 28 d is due after closing and is moved into hours."""
    times = break_times(
        Schedule((4.0, 12.0, 24.0, 672.0), (3, 3, 3, 2)), SHORTEST, cast_at=dt.datetime(2027, 3, 1, 22, 20)
    )
    plot = week_plot(times, SHORTEST)
    shown = Drawn.of(draw_svg(plot))
    row = {name: height for height, name in shown.up}
    assert list(row) == ["Mon 01 Mar 2027", "Tue 02 Mar 2027", "Mon 29 Mar 2027"]
    assert sorted(row.values()) == list(row.values())  # the first day on top
    labels = ["4 h x3", "12 h x3", "1 d x3", "28 d x2"]
    told = []
    for (x, y, _, hint), slot, label in zip(dots(shown), times.slots, labels, strict=True):
        assert x == pytest.approx(hour_places(shown, slot.starts_at), abs=NEAR_PX)
        assert y == pytest.approx(row[f"{slot.starts_at:%a %d %b %Y}"], abs=NEAR_PX)
        window = f"{slot.earliest_at:%a %H:%M} to {slot.latest_at:%a %H:%M}"
        moved = ", moved into hours from Mon 29 Mar, 23:20" if label == "28 d x2" else ""
        assert hint == f"{label}: {slot.starts_at:%H:%M}, window {window}{moved}"
        (note,) = [(at, up) for at, up, text in notes_beside(shown) if text == label]
        assert note[0] == pytest.approx(x, abs=NEAR_PX)
        assert 0 < y - note[1] < 15  # above its own dot
        told.append(f"{label.rsplit(' ', 1)[0]} {slot.starts_at:%a %d %b %H:%M}")
    assert plot.description == f"Cast Mon 01 Mar 2027 22:20; breaks: {'; '.join(told)}."
    cast = np.array(shown.points("mark tone-strong")[0])
    middle = (cast.min(axis=0) + cast.max(axis=0)) / 2
    assert middle == pytest.approx((hour_places(shown, times.cast_at), row["Mon 01 Mar 2027"]), abs=NEAR_PX)
    open_rows = [row["Mon 01 Mar 2027"], row["Mon 29 Mar 2027"]]
    for area, height in zip(shown.points("area"), open_rows, strict=True):  # the Tuesday is closed
        across, up = sorted({x for x, _ in area}), sorted({y for _, y in area})
        assert across == pytest.approx([hour_places(shown, dt.time(7, 30)), hour_places(shown, dt.time(17))], abs=0.11)
        assert sum(up) / 2 == pytest.approx(height, abs=NEAR_PX)
        assert up[0] < height < up[1]
    assert "Shaded: laboratory hours." in plot.caption
    assert plot.across.title == "local time, Europe/Oslo"


def test_a_break_moved_to_another_day_stands_on_the_day_it_starts() -> None:
    """Due on a Saturday in the night, 20 h either way: broken on the Friday, which is shaded; the Saturday is not."""
    times = break_times(Schedule((672.0, 1344.0), (2, 2)), SHORTEST, cast_at=dt.datetime(2027, 3, 6, 2, 0))
    assert [(f"{slot.due_at:%a}", f"{slot.starts_at:%a}") for slot in times.slots] == [("Sat", "Fri")] * 2
    shown = Drawn.of(draw_svg(week_plot(times, SHORTEST)))
    row = {name: height for height, name in shown.up}
    assert list(row) == ["Sat 06 Mar 2027", "Fri 02 Apr 2027", "Fri 30 Apr 2027"]
    fridays = list(row.values())[1:]
    assert [height for _, height, _, _ in dots(shown)] == pytest.approx(fridays, abs=NEAR_PX)
    for area, height in zip(shown.points("area"), fridays, strict=True):
        assert min(y for _, y in area) < height < max(y for _, y in area)


def test_a_laboratory_that_is_always_open_has_no_hours_to_shade() -> None:
    always = Laboratory()
    times = break_times(Schedule((6.0,), (2,)), always, cast_at=dt.datetime(2027, 3, 1, 22, 20))
    plot = week_plot(times, always)
    assert Drawn.of(draw_svg(plot)).points("area") == []
    assert "Shaded" not in plot.caption
    assert plot.across.title == "UTC"
