"""Pictures: what they show, that nothing leaves the frame, that foreign text is inert."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from planner.laboratory.clock.break_times import break_times
from planner.report.figures import all_plots
from planner.report.figures.drawing.plot import Area, Axis, Line, Marks, Note, Plot
from planner.report.figures.drawing.svg_drawing import WIDTH, draw_svg, share_along
from planner.report.figures.drawing.thinning import spread_over
from planner.report.figures.drawing.ticks import age_axis, linear_axis
from planner.report.figures.growth_curves import MOST_CURVES, growth_plot
from planner.report.figures.week import week_plot
from planner.terms.labels import age_label
from planner.terms.plan.settings import Laboratory
from tests.report.invented_result import HOSTILE_NAMES, bare_recommendation, invented_recommendation

PLOTS = all_plots(invented_recommendation())


def plot_named(name: str) -> Plot:
    return next(plot for plot in PLOTS if plot.name == name)


def test_every_picture_is_there_and_the_bare_result_shows_what_it_has() -> None:
    assert [plot.name for plot in PLOTS] == [
        *("schedules", "frontier", "growth", "held-out", "inclusion", "dropping", "limit")
    ]
    assert [plot.name for plot in all_plots(bare_recommendation())] == ["schedules"]


@pytest.mark.parametrize("plot", PLOTS, ids=lambda plot: plot.name)
def test_everything_lies_inside_the_axes(plot: Plot) -> None:
    for layer in plot.layers:
        points = (layer.at,) if isinstance(layer, Note) else layer.points
        for across, up in points:
            assert plot.across.low <= across <= plot.across.high
            assert plot.up.low <= up <= plot.up.high


@pytest.mark.parametrize("plot", PLOTS, ids=lambda plot: plot.name)
def test_the_drawing_is_well_formed_and_told_in_words(plot: Plot) -> None:
    root = ElementTree.fromstring(draw_svg(plot))
    names = root.attrib["aria-labelledby"].split()
    found = {element.attrib.get("id"): element.text for element in root}
    assert found[names[0]] == plot.title
    assert found[names[1]] == plot.description
    assert len(plot.description) > 20


def test_dots_of_the_recommended_row_stand_at_its_ages_and_grow_with_specimens() -> None:
    advice = invented_recommendation()
    marks = next(layer for layer in plot_named("schedules").layers if isinstance(layer, Marks))
    assert tuple(age for age, _ in marks.points) == advice.recommended.schedule.ages_h
    three, *_, two = marks.radius_px
    assert three > two
    assert three**2 / two**2 == pytest.approx(3 / 2)


def test_held_out_points_are_actual_across_and_predicted_up() -> None:
    advice = invented_recommendation()
    marks = [layer for layer in plot_named("held-out").layers if isinstance(layer, Marks)]
    shown = {point for layer in marks for point in layer.points}
    assert shown == {(point.actual_mpa, point.predicted_mpa) for point in advice.held_out}
    note = next(layer for layer in plot_named("held-out").layers if isinstance(layer, Note) and layer.is_strong)
    assert "dangerous" in note.text
    assert note.at[1] > note.at[0]  # above the diagonal: predicted more than broken at


def test_frontier_names_the_tolerance() -> None:
    notes = [layer.text for layer in plot_named("frontier").layers if isinstance(layer, Note)]
    assert notes == ["tolerance 10.0 %"]


def test_limit_has_three_bars() -> None:
    bars = [layer for layer in plot_named("limit").layers if isinstance(layer, Area)]
    assert [bar.points[1][0] for bar in bars] == [0.02, 0.022, 0.042]


def test_keys_do_not_run_out_of_the_picture() -> None:
    lines = tuple(Line(points=((0.0, 0.0), (1.0, 1.0)), label="a long name in the key " * 2) for _ in range(5))
    axis = linear_axis("share", 1.0)
    text = draw_svg(Plot(name="p", title="t", description="d", across=axis, up=axis, layers=lines))
    places = [
        float(found) for found in re.findall(r'<text class="tick" x="([\d.]+)" y="[\d.]+" text-anchor="start"', text)
    ]
    assert max(places) < WIDTH / 2


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_foreign_names_are_inert(name: str) -> None:
    for plot in all_plots(invented_recommendation(batches=(name,) * 6)):
        text = draw_svg(plot)
        assert "<script" not in text
        ElementTree.fromstring(text)


def test_axes() -> None:
    assert [name for _, name in linear_axis("error", 0.11, is_percent=True).ticks] == [
        *("0 %", "2.5 %", "5 %", "7.5 %", "10 %", "12.5 %")
    ]
    along = share_along(age_axis([1.0, 10.0, 100.0]))
    assert along(10.0) == pytest.approx(0.5)
    with pytest.raises(ValueError, match="low end below its high end"):
        Axis(title="", low=1.0, high=1.0, ticks=())
    with pytest.raises(ValueError, match="above 0"):
        Axis(title="", low=0.0, high=1.0, ticks=(), is_log=True)


def test_ages_too_close_to_be_read_are_not_named() -> None:
    names = [name for _, name in age_axis([6.0, 6.1, 24.0, 672.0]).ticks]
    assert names == ["6 h", "", "1 d", "28 d"]


def test_the_week_shows_every_break_at_its_hour() -> None:
    laboratory = Laboratory(opens=dt.time(7), closes=dt.time(17), days=(0, 1, 2, 3, 4), time_zone="Europe/Oslo")
    schedule = replace(invented_recommendation().recommended.schedule)
    times = break_times(schedule, laboratory, cast_at=dt.datetime(2027, 3, 1, 22, 0))
    plot = week_plot(times, laboratory)
    notes = {layer.text: layer.at[0] for layer in plot.layers if isinstance(layer, Note)}
    assert set(notes) == {"cast", "6 h x3", "12 h x3", "1 d x3", "28 d x2"}
    assert notes["cast"] == 22.0
    for slot in times.slots:
        hour = slot.starts_at.hour + slot.starts_at.minute / 60
        assert hour in notes.values()
    ElementTree.fromstring(draw_svg(plot))


def test_thousands_of_batches_are_thinned_evenly_and_said_to_be() -> None:
    assert spread_over(range(5), 5) == [0, 1, 2, 3, 4]
    assert spread_over(range(101), 5) == [0, 25, 50, 75, 100]
    advice = invented_recommendation()
    (point, *_rest) = advice.growth
    many = tuple(replace(point, batch=f"B{number}") for number in range(5_000))
    plot = growth_plot(replace(advice, growth=many))
    assert plot is not None
    assert f"{MOST_CURVES} of the 5,000 batches are drawn" in plot.caption
    assert sum(isinstance(layer, Line) and layer.tone == "quiet" for layer in plot.layers) <= MOST_CURVES


def test_the_schedule_shows_the_strength_expected_at_every_break() -> None:
    advice = invented_recommendation()
    plot = next(plot for plot in all_plots(advice) if plot.name == "schedules")
    notes = {layer.at[0]: layer.text for layer in plot.layers if isinstance(layer, Note) and layer.text.endswith("MPa")}
    wanted = {}
    for age in advice.recommended.schedule.ages_h:
        logs: dict[str, list[float]] = {}
        for point in advice.growth:
            if point.curing == "standard" and point.age_h == age:
                logs.setdefault(point.batch, []).append(math.log(point.strength_mpa))
        if logs:
            means = [sum(values) / len(values) for values in logs.values()]
            wanted[age] = f"{math.exp(sum(means) / len(means)):.0f} MPa"
    assert notes == wanted
    assert len(wanted) > 0
    for text in wanted.values():
        assert text in plot.caption
    assert "drawn" not in plot.caption


def test_a_break_that_nobody_has_made_shows_the_strength_of_the_drawn_batches() -> None:
    advice = invented_recommendation()
    first, second, *_ = advice.recommended.schedule.ages_h
    kept = tuple(point for point in advice.growth if point.age_h != first)
    drawn = tuple(replace(role, drawn_mpa=7.4) for role in advice.ages)
    unbroken = replace(advice, growth=kept, ages=drawn)
    plot = next(plot for plot in all_plots(unbroken) if plot.name == "schedules")
    notes = {layer.at[0]: layer.text for layer in plot.layers if isinstance(layer, Note) and layer.text.endswith("MPa")}
    assert notes[first] == "7 MPa"
    assert notes[second] != "7 MPa", "what breaks tell goes before what was drawn"
    assert f"nobody has broken {age_label(first)}: drawn strengths" in plot.caption
