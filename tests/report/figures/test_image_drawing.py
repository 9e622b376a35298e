"""Pictures as files: the same picture gives the same bytes, and both kinds are what they say."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from planner.report.figures import all_plots
from planner.report.figures.drawing.image_drawing import draw_image
from planner.report.figures.drawing.plot import Plot
from tests.report.invented_result import invented_recommendation

PLOTS = all_plots(invented_recommendation())


@pytest.mark.parametrize("plot", PLOTS, ids=lambda plot: plot.name)
def test_svg_is_well_formed_and_repeatable(plot: Plot) -> None:
    drawn = draw_image(plot, "svg")
    assert ElementTree.fromstring(drawn).tag.endswith("svg")
    assert drawn == draw_image(plot, "svg")


def test_png_is_a_png_and_repeatable() -> None:
    drawn = draw_image(PLOTS[0], "png")
    assert drawn.startswith(b"\x89PNG")
    assert drawn == draw_image(PLOTS[0], "png")


def test_dollar_signs_are_no_formulas() -> None:
    plot = PLOTS[-1]
    named = Plot(
        name="p",
        title="costs $5 and $6",
        description="d",
        across=plot.across,
        up=plot.up,
        layers=plot.layers,
    )
    assert draw_image(named, "svg").startswith(b"<?xml")
