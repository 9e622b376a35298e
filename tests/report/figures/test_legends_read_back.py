"""Every line and mark of the pictures after casting under its own name in the key, against the JSON documents."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from planner.after_casting.site_checking import check_pours
from planner.issued_curve.calibration.issue import Issue
from planner.report.documents.values.curve_document import curve_document
from planner.report.documents.values.pour_document import pour_document
from planner.report.documents.values.site_checks_document import site_checks_document
from planner.report.figures.after_casting.issued_curve import bias_plots, curve_plot, expectation_plot
from planner.report.figures.after_casting.pour_reading_chart import pour_plot
from planner.report.figures.after_casting.site_check_chart import checks_plot
from planner.report.figures.constants_chart import constants_plots
from planner.report.figures.conversion_chart import conversion_plot
from planner.report.figures.drawing.plot import Line, Marks, Note, Plot
from planner.report.figures.early_breaks_chart import early_plot
from planner.report.figures.frontier import frontier_plot
from planner.report.figures.growth_curves import growth_plot
from planner.report.figures.predicted_against_broken import held_out_plot
from planner.report.figures.programmes_chart import programmes_plot
from planner.terms.maturity import MaturitySetting
from planner.terms.results.constants import AtConstant, Constants, ConstantsOfMethod
from tests.after_casting.test_check_pours import checks, curve, rows
from tests.after_casting.test_read_pour import FOUR_HOURS, answer_of, record
from tests.issued_curve.trial_files import issued, runway_plan
from tests.report.accounts.test_early_breaks import ANSWER as EARLY
from tests.report.invented_geometries import answer as geometries_answer
from tests.report.invented_geometries import conversion
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import made_from

Points = list[tuple[float, float]]


def named(plot: Plot | None) -> dict[str, Points]:
    """Points of every layer that stands in the key, by its name there."""
    assert plot is not None
    layers = [layer for layer in plot.layers if not isinstance(layer, Note) and layer.label]
    assert len({layer.label for layer in layers}) == len(layers)
    return {layer.label: list(layer.points) for layer in layers}


def lines(plot: Plot | None, **wanted: Any) -> list[Points]:
    """Points of the lines that look so."""
    assert plot is not None
    found = [layer for layer in plot.layers if isinstance(layer, Line)]
    return [list(line.points) for line in found if all(getattr(line, name) == value for name, value in wanted.items())]


def heights(points: Points) -> list[float]:
    return [up for _, up in points]


def test_site_checks(tmp_path: Path) -> None:
    listed = [
        rows("P1", 20.0, 0.95), rows("P2", 24.0, 0.76), rows("P3", 4.5, 0.5), rows("P4", 22.0, 1.04)
    ]  # fmt: skip
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, *listed))
    points = site_checks_document(answer)["points"]
    plot = checks_plot(answer)
    found = named(plot)
    counted = [(place, item) for place, item in enumerate(points, start=1) if item["is_counted"]]
    others = [(place, item) for place, item in enumerate(points, start=1) if not item["is_counted"]]
    assert found["check"] == [(place, pytest.approx(item["z"])) for place, item in counted]
    assert found["outside the range, not counted"] == [(place, pytest.approx(item["z"])) for place, item in others]
    assert len(counted) == 3
    assert heights(found["running sum of shortfalls"]) == pytest.approx([item["cusum_low"] for item in points])
    # One check in twenty of a sound curve is as low as 1.645 standard deviations; the running sum's limit is 4.
    assert heights(found["low below this line"]) == pytest.approx([-1.645] * 2, abs=5e-4)
    assert heights(found["sum withdraws the curve above this line"]) == [4.0, 4.0]
    assert (plot.across.title, plot.up.title) == ("pours in order of casting", "standard deviations of a check")
    assert [name for _, name in plot.across.ticks] == ["P1", "P2", "P3", "P4"]


def test_a_curve_that_is_withdrawn_is_marked_at_its_check(tmp_path: Path) -> None:
    listed = [rows("P1", 20.0, 1.0), rows("P2", 24.0, 0.7), rows("P3", 22.0, 0.7)]
    answer = check_pours(runway_plan(), curve(), checks(tmp_path, *listed))
    assert answer.verdict.alarm_at is not None
    plot = checks_plot(answer)
    (upright,) = [points for points in lines(plot, tone="second") if points[0][0] == points[1][0]]
    assert upright[0][0] == answer.verdict.alarm_at + 1
    assert upright[0][1] <= min(item.z for item in answer.verdict.points)


def test_a_pour(tmp_path: Path) -> None:
    answer = answer_of(tmp_path, *FOUR_HOURS, site=record(25.0))
    document = pour_document(answer)
    found = named(pour_plot(answer))
    table = {row["maturity"]: row for row in document["table"]}
    for name, key in (("curve alone", "curve_mpa"), ("this pour", "strength_mpa"), ("safe reading", "safe_mpa")):
        assert found[name], name
        for maturity, strength in found[name]:
            assert strength == pytest.approx(table[maturity][key])
    assert found["early breaks"] == [(item["maturity"], item["mean_mpa"]) for item in document["early"]]
    read = [(item["maturity"], item["strength_mpa"]) for item in document["readings"]]
    assert found["read at targets"] == [pytest.approx(point) for point in read]


@pytest.fixture(scope="module")
def issue(tmp_path_factory: pytest.TempPathFactory) -> Issue:
    return issued(tmp_path_factory.mktemp("issued"), "T1")


def test_an_issued_curve(issue: Issue) -> None:
    document = curve_document(issue)
    plot = curve_plot(issue)
    found = named(plot)
    assert plot.up.title == "strength, MPa"
    assert plot.across.title.startswith("equivalent age at 20 C")
    for (maturity, read), (below, safe) in zip(found["strength read"], found["safe reading"], strict=True):
        assert maturity == below
        assert read == pytest.approx(float(issue.curve.read(maturity)))
        assert safe < read
    assert found["strength read"][-1][1] / found["safe reading"][-1][1] == pytest.approx(
        float(issue.curve.promise.safe_factor or 0.0)
    )
    batch = [mean for fit in issue.fits for mean in fit.means.mean_mpa]
    assert heights(found["breaks of the trial batch"]) == pytest.approx(batch)
    assert heights(found["companions on site"]) == pytest.approx([item["broken_mpa"] for item in document["checks"]])
    at = [maturity for maturity, _ in found["companions on site"]]
    assert at == pytest.approx([item["maturity"] for item in document["checks"]])
    at = [maturity for maturity, _ in found["breaks of the trial batch"]]
    assert at == pytest.approx([float(maturity) for fit in issue.fits for maturity in fit.means.maturity_h])


def test_companions_against_the_reading(issue: Issue) -> None:
    document = curve_document(issue)
    tolerance = document["acceptance"]["tolerance"]
    differences = [item["difference"] for item in document["checks"]]
    for plot in bias_plots(issue):
        found = named(plot)
        assert heights(found["tolerance"]) == [tolerance, tolerance]
        assert [tolerance, tolerance] in [[-up for up in heights(line)] for line in lines(plot, tone="quiet")]
        limits = lines(plot, tone="third")
        assert [line[1][1] for line in limits] == [-line[0][1] for line in limits]
        marks = [layer for layer in plot.layers if isinstance(layer, Marks)]
        assert heights(list(marks[0].points)) == pytest.approx(differences)
        if plot.name == "bias-maturity":
            at = [maturity for maturity, _ in marks[0].points]
            assert at == pytest.approx([item["maturity"] for item in document["checks"]])
        for line, check in zip(limits, issue.acceptance.checks if issue.acceptance else (), strict=True):
            assert line[0][0] == line[1][0]
            assert line[1][1] == pytest.approx(issue.acceptance.z_limit * check.sd if issue.acceptance else None)


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


def test_the_trial_batch_beside_the_earlier_ones(issue: Issue) -> None:
    fit, expectation = issue.fits[0], issue.expectations[0]
    plot = expectation_plot(fit, expectation)
    assert plot is not None
    found = named(plot)
    ages = expectation.ages
    assert found["their mean"] == [(item.age_h, item.middle_mpa) for item in ages]
    assert set(found["earlier batches"]) == {
        (item.age_h, value) for item in ages for value in (item.low_mpa, item.high_mpa)
    }
    assert found["T1"] == [(item.age_h, item.trial_mpa) for item in ages]
    assert plot.up.title == "strength, MPa"


def test_what_the_axes_say(issue: Issue) -> None:
    over = {plot.name: (plot.across.title, plot.up.title) for plot in bias_plots(issue)}
    assert over["bias-maturity"] == ("equivalent age at 20 C, h", "broken less read")
    assert over["bias-temperature"] == ("mean temperature, C", "broken less read")


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
