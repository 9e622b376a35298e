"""Pictures of a plan that waits for strengths, read by their grid lines: every line, shade and mark of the JSON."""

from __future__ import annotations

import re
from typing import Any, Literal
from xml.etree import ElementTree

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.read import load_plan
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.figures import all_plots
from planner.report.figures.drawing.image_drawing import figure_of
from planner.report.figures.drawing.plot import Area, Line
from planner.report.figures.drawing.svg_drawing import draw_svg
from planner.report.text.shown_units import shown_in
from planner.terms.plan.shown_as import ShownAs
from planner.terms.results.recommended.recommendation import Recommendation
from tests.oracle.plain.candidates import Limits
from tests.oracle.small_plans import AGES_H, Asked, invent, write_plan
from tests.report.drawn_values import NAME, Drawn, Grid, number, value_at

NEAR_PX = 0.06  # a tenth of a pixel is the last digit drawn
ASKED = Asked(
    Limits(AGES_H, 3, 3, (2, 3), 9, shares=(0.5, 0.5)), (13.0, 24.0), q_k=(4000.0, 6000.0), datum_c=(-5.0, 0.0),
    curves=("logarithmic",), strengths_mpa=(15.0, 25.0),
)  # fmt: skip
PSI = 145.0377377


@pytest.fixture(scope="module")
def advice(tmp_path_factory: pytest.TempPathFactory) -> Recommendation:
    folder = tmp_path_factory.mktemp("drawn")
    invent(folder, seed=8, n_batches=6, target_h=12.0, n_each=3)
    plan = load_plan(write_plan(folder, ASKED, more="[site]\nmean_concrete_temperature_c = [8, 32]\n"))
    return recommend(plan, n_draws=20, workers=1)


@pytest.fixture(scope="module")
def document(advice: Recommendation) -> Any:
    return recommendation_document(advice)


def svg_of(advice: Recommendation, name: str) -> str:
    return draw_svg(next(plot for plot in all_plots(advice) if plot.name == name))


def log_place(value: float, grid: Grid) -> float:
    """Where a value stands on a logarithmic axis [px], by its grid lines."""
    named = [(at, number(name)) for at, name in grid if name]
    slope, start = np.polyfit([np.log(worth) for _, worth in named], [at for at, _ in named], 1)
    return float(slope * np.log(value) + start)


def place(value: float, grid: Grid) -> float:
    named = [(at, number(name)) for at, name in grid if name]
    slope, start = np.polyfit([worth for _, worth in named], [at for at, _ in named], 1)
    return float(slope * value + start)


def corners(element: ElementTree.Element) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", element.attrib["d"])]


def of_class(shown: Drawn, kind: str) -> list[ElementTree.Element]:
    """Paths of just these classes that lie in the picture; the signs of the key start with a step to the right."""
    return [
        element
        for element in shown.elements
        if element.tag == f"{NAME}path" and element.get("class") == kind and len(corners(element)) > 1
    ]


def strong_notes(shown: Drawn) -> dict[str, tuple[float, float]]:
    return {
        element.text or "": (float(element.attrib["x"]), float(element.attrib["y"]))
        for element in shown.elements
        if element.get("class") == "note strong"
    }


@pytest.mark.parametrize("units", ["SI", "US"])
def test_strength_against_hours(advice: Recommendation, document: Any, units: Literal["SI", "US"]) -> None:
    with shown_in(ShownAs(units=units)):
        shown = Drawn.of(svg_of(advice, "waiting"))
    per_mpa = 1.0 if units == "SI" else PSI
    waiting = document["waiting"]
    factor = waiting["safe_factor"]
    assert factor > 1
    assert [line["temperature_c"] for line in waiting["growth"]] == [8.0, 20.0, 32.0]
    for tone, line in zip(("third", "main", "second"), waiting["growth"], strict=True):
        (path,) = of_class(shown, f"line tone-{tone}")
        wanted = [(log_place(h, shown.across), place(mpa * per_mpa, shown.up)) for h, mpa in line["points"]]
        np.testing.assert_allclose(corners(path), wanted, atol=NEAR_PX + 0.05)
    (band,) = of_class(shown, "area tone-quiet")
    middle = waiting["growth"][1]["points"]
    edge = [(h, mpa * factor) for h, mpa in middle] + [(h, mpa / factor) for h, mpa in reversed(middle)]
    wanted = [(log_place(h, shown.across), place(mpa * per_mpa, shown.up)) for h, mpa in edge]
    np.testing.assert_allclose(corners(band), wanted, atol=NEAR_PX + 0.05)
    levels = of_class(shown, "line tone-strong dashed")
    names = strong_notes(shown)
    assert list(names) == (["15 MPa", "25 MPa"] if units == "SI" else ["2,180 psi", "3,630 psi"])
    for wait, level, (x, y) in zip(waiting["waits"], levels, names.values(), strict=True):
        (start, end) = corners(level)
        for at in (start, end):
            assert at[1] == pytest.approx(place(wait["strength_mpa"] * per_mpa, shown.up), abs=NEAR_PX + 0.05)
        assert x > end[0]  # right of the picture: no curve runs through the name
        assert 0 <= y - end[1] <= 6


def test_the_key_of_strength_against_hours(advice: Recommendation, document: Any) -> None:
    plot = next(plot for plot in all_plots(advice) if plot.name == "waiting")
    waiting = document["waiting"]
    lines = {layer.label: layer.points for layer in plot.layers if isinstance(layer, Line) and layer.label}
    assert list(lines) == ["concrete at 8 C", "concrete at 20 C", "concrete at 32 C"]
    for name, line in zip(lines, waiting["growth"], strict=True):
        assert number(name) == line["temperature_c"]
        np.testing.assert_allclose(lines[name], line["points"])
    (band,) = [layer for layer in plot.layers if isinstance(layer, Area)]
    assert waiting["safe_factor"] <= number(band.label) < waiting["safe_factor"] + 0.0101
    assert band.label.endswith("times weaker or stronger, at 20 C")
    assert (plot.across.title, plot.up.title) == ("hours since age zero (logarithmic)", "strength, MPa")
    assert f"Mean curve of {waiting['n_curves']} earlier batches" in plot.description
    for wait in waiting["waits"]:
        for at in wait["hours"]:
            if at["likely_h"] is not None:
                said = f"{wait['strength_mpa']:g} MPa at {at['temperature_c']:g} C after {at['likely_h']:.1f} h"
                assert said in plot.description


@pytest.mark.parametrize(
    ("name", "method"), [("constants-q", "equivalent age"), ("constants-datum", "temperature-time")]
)
def test_error_against_the_constant(advice: Recommendation, document: Any, name: str, method: str) -> None:
    study = document["constants"]
    (one,) = [one for one in study["methods"] if one["method"] == method]
    shown = Drawn.of(svg_of(advice, name))
    points = one["points"]

    def wanted(errors: list[float | None]) -> list[tuple[float, float]]:
        return [
            (place(point["constant"], shown.across), place(rms, shown.up))
            for point, rms in zip(points, errors, strict=True)
            if rms is not None
        ]

    (later,) = of_class(shown, "line tone-strong")
    np.testing.assert_allclose(corners(later), wanted([p["later_rms"] for p in points]), atol=NEAR_PX + 0.05)
    (own,) = of_class(shown, "line tone-main")
    np.testing.assert_allclose(corners(own), wanted([p["own_rms"] for p in points]), atol=NEAR_PX + 0.05)
    conditions = study["conditions"] if len(study["conditions"]) > 1 else []
    for at, tone in zip(range(len(conditions)), ("second", "third", "quiet"), strict=False):
        (line,) = of_class(shown, f"line tone-{tone} dashed")
        np.testing.assert_allclose(
            corners(line), wanted([p["by_condition"][at] for p in points]), atol=NEAR_PX + 0.05
        )  # fmt: skip
    (shade,) = of_class(shown, "area tone-quiet")
    ends = sorted({x for x, _ in corners(shade)})
    assert ends == pytest.approx([place(value, shown.across) for value in one["about_as_good"]], abs=NEAR_PX + 0.05)
    assert min(y for _, y in corners(shade)) == pytest.approx(min(at for at, _ in shown.up), abs=NEAR_PX)
    marks = of_class(shown, "mark tone-strong")
    chosen = study["chosen"]
    is_here = chosen["method"] == method
    assert len(marks) == 2 * is_here  # in the picture and in the key
    if is_here:
        constant = chosen["q_k"] if method == "equivalent age" else chosen["datum_c"]
        (point,) = [p for p in points if p["constant"] == constant]
        rms = point["later_rms"] if study["judged_on"] == "later pour" else point["own_rms"]
        middle = np.mean([np.min(corners(marks[0]), axis=0), np.max(corners(marks[0]), axis=0)], axis=0)
        np.testing.assert_allclose(middle, wanted_at := [place(constant, shown.across), place(rms, shown.up)], atol=0.2)
        assert value_at(wanted_at[0], shown.across) == pytest.approx(constant)


def test_growth_shows_companions_where_they_were_broken_and_strengths_as_levels(
    advice: Recommendation, document: Any
) -> None:
    shown = Drawn.of(svg_of(advice, "growth"))
    site = [point for point in document["growth"] if point["curing"].startswith("site-cured")]
    ages = {point["age_h"] for point in site}
    assert ages
    assert ages.isdisjoint({wait["age_h"] for wait in document["waiting"]["waits"]})
    rings = [item for item in shown.elements if "ring" in item.get("class", "").split()][: len(site)]
    hours = {"h": 1.0, "d": 24.0}
    named = [(at, name.split()) for at, name in shown.across if name]
    slope, start = np.polyfit([np.log(float(n) * hours[unit]) for _, (n, unit) in named], [at for at, _ in named], 1)
    drawn = sorted((float(ring.attrib["cx"]), float(ring.attrib["cy"])) for ring in rings)
    wanted = sorted((slope * np.log(p["age_h"]) + start, place(p["strength_mpa"], shown.up)) for p in site)
    np.testing.assert_allclose(drawn, wanted, atol=NEAR_PX + 0.05)
    levels = [corners(item) for item in of_class(shown, "line tone-second dashed")]
    assert [line[0][1] for line in levels] == pytest.approx(
        [place(wait["strength_mpa"], shown.up) for wait in document["waiting"]["waits"]], abs=NEAR_PX + 0.05
    )
    assert all(line[0][1] == line[1][1] for line in levels)


def test_the_key_of_an_image_lies_inside_it(advice: Recommendation) -> None:
    for plot in all_plots(advice):
        figure = figure_of(plot)
        figure.draw_without_rendering()
        for key in figure.legends:
            box = key.get_window_extent()
            assert 0 <= box.x0 < box.x1 <= figure.bbox.x1, plot.name
