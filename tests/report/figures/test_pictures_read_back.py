"""Pictures read as a reader does, by their grid lines, against the JSON document: heights, reaches, names, notes."""

from __future__ import annotations

from typing import Any

import pytest

from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.figures import all_plots
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.terms.labels import age_label
from planner.terms.results.recommended.recommendation import Recommendation
from tests.report.drawn_values import Drawn, number, value_at
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from

NEAR = 2e-4  # a tenth of a pixel is the last digit drawn


@pytest.fixture
def advice(request: pytest.FixtureRequest) -> Recommendation:
    """Made when it is asked for, not while tests are collected."""
    return invented_recommendation() if request.param == "invented" else made_from(4, has_prices=True).told


def drawn(advice: Recommendation, name: str) -> Drawn:
    return Drawn.of(draw_svg(next(plot for plot in all_plots(advice) if plot.name == name)))


EVERY = pytest.mark.parametrize("advice", ["invented", "real"], indirect=True)


def document(advice: Recommendation) -> Any:
    return recommendation_document(advice)


@pytest.mark.parametrize(
    ("advice", "picture"), [("invented", "frontier"), ("real", "frontier"), ("real", "programmes")], indirect=["advice"]
)
def test_the_tolerance_stands_at_its_height(advice: Recommendation, picture: str) -> None:
    shown = drawn(advice, picture)
    (line,) = shown.points("line tone-second dashed")
    tolerance = document(advice)["tolerance"]
    assert [value_at(y, shown.up) for _, y in line] == pytest.approx([tolerance] * 2, abs=NEAR)
    (note,) = [text for text in shown.notes() if "tolerance" in text]
    assert number(note) == pytest.approx(tolerance)


def test_the_frontier_goes_through_its_errors() -> None:
    advice = invented_recommendation()
    shown = drawn(advice, "frontier")
    (line,) = [path for path in shown.points("line tone-main") if len(path) > 2]
    wanted = [(point.n_specimens, point.nested_rms) for point in advice.frontier]
    assert [value_at(x, shown.across) for x, _ in line] == pytest.approx([n for n, _ in wanted], abs=0.01)
    assert [value_at(y, shown.up) for _, y in line] == pytest.approx([rms for _, rms in wanted], abs=NEAR)


@EVERY
def test_how_often_each_age_is_in_the_best_schedule(advice: Recommendation) -> None:
    bars = drawn(advice, "inclusion").bars()
    ages = document(advice)["ages"]
    chosen = document(advice)["recommended"]["ages_h"]
    assert list(bars) == [age_label(role["age_h"]) + (" *" if role["age_h"] in chosen else "") for role in ages]
    for (reach, note), role in zip(bars.values(), ages, strict=True):
        assert reach == pytest.approx(role["inclusion"], abs=2e-3)
        assert number(note) == pytest.approx(role["inclusion"], abs=0.0101)


@EVERY
def test_what_dropping_an_age_costs(advice: Recommendation) -> None:
    shown = drawn(advice, "dropping")
    wanted = {
        f"without {age_label(role['age_h'])}": role["rms_if_dropped"]
        for role in document(advice)["ages"]
        if role["rms_if_dropped"] is not None
    }
    bars = shown.bars()
    assert list(bars) == list(wanted)
    for name, (reach, note) in bars.items():
        assert reach == pytest.approx(wanted[name], abs=NEAR)
        assert number(note) == pytest.approx(wanted[name], abs=0.00051)
    (line,) = shown.points("line dashed")
    now = document(advice)["recommended"]["error"]["rms"]
    assert [value_at(x, shown.across) for x, _ in line] == pytest.approx([now] * 2, abs=NEAR)


@EVERY
def test_limit_scatter_and_error(advice: Recommendation) -> None:
    bars = drawn(advice, "limit").bars()
    limit, own = document(advice)["limit"], document(advice)["honest"]["own_batch"]
    wanted = {
        "least scatter possible": limit["rms"],
        "scatter of this schedule": limit["schedule_rms"],
        "own-batch error": own["nested_rms"],
    }
    assert list(bars) == list(wanted)
    for name, (reach, note) in bars.items():
        assert reach == pytest.approx(wanted[name], abs=NEAR)
        assert number(note) == pytest.approx(wanted[name], abs=0.00051)


def test_the_reader_reads_a_picture_made_by_hand() -> None:
    """Nought at 100 px, 10 % at 0 px; a dashed line at 5 %."""
    grid = (
        '<path class="grid" d="M0.0 100.0H9.0"/><text>0 %</text><path class="grid" d="M0.0 0.0H9.0"/><text>10 %</text>'
    )
    shown = Drawn.of(
        f'<svg xmlns="http://www.w3.org/2000/svg">{grid}<path class="line dashed" d="M0.0 50.0L9.0 50.0"/></svg>'
    )
    ((start, end),) = shown.points("line dashed")
    assert start == (0.0, 50.0)
    assert value_at(end[1], shown.up) == pytest.approx(0.05)
