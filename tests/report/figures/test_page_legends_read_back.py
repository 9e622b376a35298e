"""Every line and mark of the page's pictures under its own name in the key, and what the axes say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.report.figures.constants_chart import constants_plots
from planner.report.figures.conversion_chart import conversion_plot
from planner.report.figures.drawing.plot import Marks
from planner.report.figures.early_breaks_chart import early_plot
from planner.report.figures.frontier import frontier_plot
from planner.report.figures.growth_curves import growth_plot
from planner.report.figures.predicted_against_broken import held_out_plot
from planner.report.figures.programmes_chart import programmes_plot
from planner.terms.maturity import MaturitySetting
from planner.terms.results.constants import AtConstant, Constants, ConstantsOfMethod
from tests.report.accounts.test_early_breaks import ANSWER as EARLY
from tests.report.figures.test_legends_read_back import heights, lines, named
from tests.report.invented_geometries import answer as geometries_answer
from tests.report.invented_geometries import conversion
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from


def test_the_tolerance_of_programmes_and_their_axes() -> None:
    told = made_from(4, has_prices=True).told
    plot = programmes_plot(told)
    assert plot is not None
    assert plot.across.title == "whole calibration, EUR"
    assert plot.up.title.startswith("RMS error, ")
    assert [told.tolerance] * 2 in [heights(line) for line in lines(plot, is_dashed=True)]


def test_pairs_of_two_geometries() -> None:
    figures = conversion()
    geometries = replace(geometries_answer(), conversions=(figures,))
    plot = conversion_plot(replace(invented_recommendation(), geometries=geometries))
    assert plot is not None
    found = named(plot)
    assert found["pairs cast together"] == [(30.0, 24.5), (40.0, 31.0)]
    assert found["conversion"] == [(10.0, 8.0), (50.0, 40.0)]
    assert sorted(found["9 in 10 other batches"]) == [(10.0, 7.5), (10.0, 8.6), (50.0, 37.3), (50.0, 42.9)]
    assert (plot.across.title, plot.up.title) == ("cube 100 mm, MPa", "cylinder 100x200 mm, MPa")


def test_errors_over_a_constant() -> None:
    points = tuple(
        AtConstant(constant=q, own_rms=own, later_rms=later, by_condition=())
        for q, own, later in ((4000.0, 0.05, 0.12), (5000.0, 0.04, 0.10), (6000.0, 0.06, 0.11))
    )
    method = ConstantsOfMethod(method="equivalent age", points=points, about_as_good=(4000.0, 5000.0), hours=())
    study = Constants(
        chosen=MaturitySetting("equivalent age", 5000.0, 20.0), conditions=(), judged_on="later pour",
        immaterial=0.0025, methods=(method,),
    )  # fmt: skip
    (plot,) = constants_plots(replace(invented_recommendation(), constants=study))
    found = named(plot)
    assert found["own batch"] == [(4000.0, 0.05), (5000.0, 0.04), (6000.0, 0.06)]
    assert found["later pour"] == [(4000.0, 0.12), (5000.0, 0.10), (6000.0, 0.11)]
    assert found["recommended"] == [(5000.0, 0.10)]
    (about,) = [points for name, points in found.items() if name.startswith("about as good")]
    assert {constant for constant, _ in about} == {4000.0, 5000.0}
    assert (plot.across.title, plot.up.title) == ("Q of the equivalent age, K", "RMS error")


def test_what_the_axes_of_the_page_say() -> None:
    told = invented_recommendation()
    frontier = frontier_plot(told)
    assert frontier is not None
    assert frontier.across.title.startswith("specimens")
    assert frontier.up.title == "RMS error"
    early = early_plot(replace(told, early_breaks=EARLY))
    assert early is not None
    assert early.across.title == "specimens that each pour breaks early"
    assert early.up.title == "relative error of a later pour"
    assert [told.tolerance] * 2 in [heights(line) for line in lines(early, is_dashed=True)]
    held_out = held_out_plot(told)
    assert held_out is not None
    assert held_out.across.title == "broken at, MPa"
    assert held_out.up.title == "predicted, MPa"


def test_growth_of_the_earlier_batches() -> None:
    told = invented_recommendation()
    assert told.best.schedule.ages_h != told.recommended.schedule.ages_h
    plot = growth_plot(told)
    assert plot is not None
    found = named(plot)
    assert [age for age, _ in found["recommended break ages"]] == list(told.recommended.schedule.ages_h)
    targets = lines(plot, tone="second", is_dashed=True)
    assert [[age for age, _ in line] for line in targets] == [[age, age] for age in told.target_ages_h]
    standard = [point for point in told.growth if point.curing == "standard"]
    others = [point for point in told.growth if point.curing != "standard"]
    assert standard
    assert others
    by_batch = [
        sorted((point.age_h, point.strength_mpa) for point in standard if point.batch == batch)
        for batch in dict.fromkeys(point.batch for point in standard)
    ]
    assert lines(plot, tone="quiet") == by_batch
    assert found["standard-cured, a line for each batch"] == by_batch[0]
    rings = [layer for layer in plot.layers if isinstance(layer, Marks) and layer.shape == "ring"]
    assert rings[0].label == "cured beside the work"
    assert sorted(point for ring in rings for point in ring.points) == sorted(
        (point.age_h, point.strength_mpa) for point in others
    )
    first = others[0]
    assert f"{first.strength_mpa:.1f} MPa, {first.n_specimens} specimens" in rings[0].hints[0]
    assert (plot.up.title, plot.caption) == (
        "strength, MPa",
        "Recommended break ages 6 h, 12 h, 1 d and 28 d; dashed: targets.",
    )
    strongest = max(point.strength_mpa for point in told.growth)
    assert f"6 batches, up to {strongest:.0f} MPa." in plot.description


def test_checks_held_out_and_the_band_of_the_tolerance() -> None:
    """An own reading of 30 for 20 MPa is over, one of 10 under; a later pour read at 18 for 20 MPa is within 10 %."""
    told = invented_recommendation()
    one = replace(told.held_out[0], batch="B1", predicted_mpa=30.0, actual_mpa=20.0)
    low = replace(one, predicted_mpa=10.0)
    near = replace(one, predicted_mpa=19.0)
    later = replace(one, batch="B2", trial_batch="B5", predicted_mpa=18.5)
    plot = held_out_plot(
        replace(told, held_out=(one, low, replace(low, actual_mpa=21.0), near), held_out_later=(later,))
    )
    assert plot is not None
    found = named(plot)
    assert found["later pour"] == [(20.0, 18.5)]
    (own,) = [points for name, points in found.items() if name.startswith("own batch")]
    assert own == [(20.0, 30.0), (20.0, 10.0), (21.0, 10.0), (20.0, 19.0)]
    band = found["within 10.0 %"]
    high = plot.up.high
    assert band == [(0.0, 0.0), pytest.approx((high / 1.1, high)), (high, high), pytest.approx((high, 0.9 * high))]
    assert "beyond 10.0 %: 1 over-predicted, 2 under-predicted." in plot.caption
    assert "1 readings: 0 over-predicted, 0 under-predicted." in plot.caption
    hints = [hint for layer in plot.layers if isinstance(layer, Marks) for hint in layer.hints]
    assert "later pour B2 read with the curve of B5: predicted 18.5, broken at 20.0 MPa" in hints[0]
    assert "predicted 30.0, broken at 20.0 MPa" in hints[1]
