"""Every line and mark of the pictures after casting under its own name in the key, against the JSON documents."""

from __future__ import annotations

import re
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
from planner.report.figures.drawing.plot import Line, Marks, Note, Plot
from planner.terms.labels import age_label
from tests.after_casting.test_check_pours import checks, curve, rows
from tests.after_casting.test_read_pour import FOUR_HOURS, answer_of, record
from tests.issued_curve.trial_files import issued, runway_plan

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
    assert plot.description == "; ".join(f"P{place} {item['z']:+.1f}" for place, item in enumerate(points, start=1))
    assert points[1]["z"] < 0  # broken at 0.76 of the reading
    assert plot.caption.startswith("Points: z of one check each, below nought weaker than read.")


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
    listed = "; ".join(f"{maturity:.1f}: {strength:.1f} MPa" for maturity, strength in read)
    assert pour_plot(answer).description == f"Read at {listed}."


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


def signed(share: float) -> str:
    return f"{100 * share:+.1f} %"


def test_companions_stand_at_their_own_temperatures_and_below_nought_where_weaker(issue: Issue) -> None:
    """The warmest group first: its mark may not change places with a cooler one's."""
    temperatures = [29.5 - 6.0 * place for place in range(len(issue.groups))]
    groups = tuple(replace(group, temperature_c=at) for group, at in zip(issue.groups, temperatures, strict=True))
    checks = curve_document(issue)["checks"]
    assert len(checks) > 1
    plots = {plot.name: plot for plot in bias_plots(replace(issue, groups=groups))}
    assert {name: plot.title for name, plot in plots.items()} == {
        "bias-maturity": "Companions against the reading, over maturity",
        "bias-temperature": "Companions against the reading, over mean concrete temperature",
    }
    (own,) = [layer for layer in plots["bias-temperature"].layers if isinstance(layer, Marks)]
    assert own.points == tuple(zip(temperatures, (item["difference"] for item in checks), strict=True))
    for item in checks:
        assert (item["difference"] < 0) == (item["broken_mpa"] < item["read_mpa"])
    said = [f"{age_label(item['age_h'])}, {item['placement']} {signed(item['difference'])}" for item in checks]
    for plot in plots.values():
        assert plot.caption.startswith("Below nought the concrete was weaker than read.")
        assert plot.description.replace("\u2212", "-") == "; ".join(said)
        (marks,) = [layer for layer in plot.layers if isinstance(layer, Marks)]
        assert marks.label == "broken less read"
        assert [hint.replace("\u2212", "-").replace(": ", " ") for hint in marks.hints] == said


def test_what_is_told_beside_an_issued_curve(issue: Issue) -> None:
    table = curve_document(issue)["table"]
    first, last = (float(found) for found in re.findall(r"([\d.]+) MPa", curve_plot(issue).description))
    assert (first, last) == pytest.approx((table[0]["strength_mpa"], table[-1]["strength_mpa"]), abs=0.2)
    plot = expectation_plot(issue.fits[0], issue.expectations[0])
    assert plot is not None
    assert plot.caption == "Band: 95 of 100 batches like the earlier ones lie in it at one age."
    assert plot.description == "; ".join(
        f"{item.age_h:g} h: {item.trial_mpa:.1f} MPa, expected {item.low_mpa:.1f} to {item.high_mpa:.1f}"
        for item in issue.expectations[0].ages
    )


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
