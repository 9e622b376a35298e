"""Programmes as picture and sheet, later pours beside the own batch in the older pictures: the same figures."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from openpyxl import load_workbook

from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.documents.workbook import render_workbook
from planner.report.figures.drawing.plot import Line, Marks, Plot
from planner.report.figures.frontier import frontier_plot
from planner.report.figures.predicted_against_broken import held_out_plot
from planner.report.figures.programmes_chart import programmes_plot
from planner.terms.labels import schedule_label
from tests.report.invented_result import invented_recommendation
from tests.report.real_results import Made, made_from


def made() -> Made:
    """Kept by what makes it; not made while tests are collected."""
    return made_from(4, has_prices=True)


def lines(plot: Plot | None) -> dict[str, Line]:
    assert plot is not None
    return {layer.label: layer for layer in plot.layers if isinstance(layer, Line)}


def diamonds(plot: Plot | None) -> tuple[tuple[float, float], ...]:
    assert plot is not None
    (marks,) = [layer for layer in plot.layers if isinstance(layer, Marks) and layer.label == "recommended"]
    return marks.points


def test_a_line_for_each_number_of_trial_batches_and_the_recommended_on_one() -> None:
    documents = recommendation_document(made().told)["programmes"]
    plot = programmes_plot(made().told)
    found = lines(plot)
    numbers = sorted({item["n_trial_batches"] for item in documents})
    assert numbers == [1, 2, 3]
    for number in numbers:
        label = "1 trial batch" if number == 1 else f"{number} trial batches"
        expected = sorted(
            (item["cost"], item["next_batch"]["rms"]) for item in documents if item["n_trial_batches"] == number
        )
        assert list(found[label].points) == expected
    asked = recommendation_document(made().told)["recommended_programme"]
    assert diamonds(plot) == (pytest.approx((asked["cost"], asked["next_batch"]["rms"])),)
    assert diamonds(plot)[0] in found["1 trial batch"].points
    assert "EUR" in plot.across.title  # type: ignore[union-attr]
    assert "later pour" in plot.up.title  # type: ignore[union-attr]


def test_without_prices_specimens_of_all_trial_batches_stand_across() -> None:
    money = made().told.spending
    assert money is not None
    free = replace(
        money,
        recommended=replace(money.recommended, cost=None),
        programmes=tuple(replace(item, cost=None) for item in money.programmes),
    )
    plot = programmes_plot(replace(made().told, spending=free))
    assert plot is not None
    assert "specimens" in plot.across.title
    two = lines(plot)["2 trial batches"].points
    assert {amount for amount, _ in two} == {float(i.n_specimens) for i in free.programmes if i.n_trial_batches == 2}
    assert programmes_plot(replace(made().told, spending=None)) is None


def test_error_against_specimens_shows_both_errors_by_name() -> None:
    money = made().told.spending
    assert money is not None
    plot = frontier_plot(made().told)
    found = lines(plot)
    later = found["later pour, fixed programmes"].points
    by_count = {item.schedule.n_specimens: item for item in money.programmes if item.n_trial_batches == 1}
    assert [count for count, _ in later] == sorted(by_count)
    taken = money.recommended
    assert taken.next_batch is not None
    assert (float(taken.schedule.n_specimens), taken.next_batch.rms) in later
    own = made().told.honest.own_batch
    assert own is not None
    assert diamonds(plot) == (
        (taken.schedule.n_specimens, own.nested_rms),
        (taken.schedule.n_specimens, taken.next_batch.rms),
    )
    assert any(label.startswith("own batch") for label in found)
    assert plot is not None
    *points, reads, recommended = [layer.hints for layer in plot.layers if isinstance(layer, Marks)]
    assert recommended == ("recommended, own batch", "recommended, later pour")
    assert points == [
        tuple(
            f"{point.n_specimens} specimens: {schedule_label(point.schedule)}" for point in made().told.frontier
        )
    ]  # fmt: skip
    assert reads == tuple(
        f"later pour, {count} specimens in each trial batch: {schedule_label(by_count[count].schedule)}"
        for count in sorted(by_count)
    )
    assert plot.description.endswith(f"The recommended schedule has {taken.schedule.n_specimens} specimens.")


def test_of_two_programmes_with_as_many_specimens_the_better_one_is_drawn() -> None:
    """The recommended one is drawn whatever its error; beside another count the lowest error of a later pour."""
    money = made().told.spending
    assert money is not None
    other = next(item for item in money.programmes if item != money.recommended and item.n_trial_batches == 1)
    assert other.next_batch is not None
    worse = replace(other, next_batch=replace(other.next_batch, rms=other.next_batch.rms + 0.01))
    for listed in ((other, worse), (worse, other)):
        plot = frontier_plot(replace(made().told, spending=replace(money, programmes=(money.recommended, *listed))))
        later = dict(lines(plot)["later pour, fixed programmes"].points)
        if other.schedule.n_specimens != money.recommended.schedule.n_specimens:
            assert later[other.schedule.n_specimens] == other.next_batch.rms
        assert later[money.recommended.schedule.n_specimens] == money.recommended.headline_rms


def test_held_out_checks_show_later_pours_read_with_the_curve_of_another_batch() -> None:
    found = made().told
    plot = held_out_plot(found)
    assert plot is not None
    marks = {layer.label: layer for layer in plot.layers if isinstance(layer, Marks)}
    assert all(label == "later pour" or label.startswith("own batch") for label in marks)
    later = found.held_out_later
    n_batches = found.evidence.n_batches
    n_checks = len(found.held_out)
    assert len(later) == n_checks * (n_batches - 1)  # every check is read with the curve of every other batch
    assert all(point.trial_batch and point.trial_batch != point.batch for point in later)
    assert marks["later pour"].points == tuple((p.actual_mpa, p.predicted_mpa) for p in later)
    truths = {(p.batch, p.target_age_h, p.condition): p.actual_mpa for p in found.held_out}
    assert all(truths[p.batch, p.target_age_h, p.condition] == p.actual_mpa for p in later)
    bias_square = sum((p.predicted_mpa / p.actual_mpa - 1.0) ** 2 for p in later) / len(later)
    money = found.spending
    assert money is not None
    assert money.recommended.next_batch is not None
    # measured squares hold the companions' scatter as well, so they are above the error against true strength
    assert money.recommended.next_batch.rms**2 < bias_square < (1.6 * money.recommended.next_batch.rms) ** 2
    n_over = sum(p.predicted_mpa > 1.1 * p.actual_mpa for p in later)
    assert f"{len(later)} readings: {n_over} over-predicted" in plot.caption


def test_nothing_known_of_later_pours_leaves_the_own_batch_alone() -> None:
    advice = invented_recommendation()
    assert set(lines(frontier_plot(replace(advice, spending=None)))) == {"", "own batch, by batches left out"}
    plot = held_out_plot(advice)
    assert plot is not None
    assert "Later pours" not in plot.caption


def test_the_sheet_of_programmes_holds_the_document_s_figures() -> None:
    documents = recommendation_document(made().told)["programmes"]
    book = load_workbook(io.BytesIO(render_workbook(made().told, made().settings)))
    rows = list(book["Programmes"].iter_rows(min_row=2, max_row=1 + len(documents), values_only=True))
    for row, item in zip(rows, documents, strict=True):
        assert row[:2] == (item["n_trial_batches"], item["n_specimens"])
        assert row[3:8] == pytest.approx(
            (
                item["own_batch"]["rms"], item["own_batch"]["within_tolerance"], item["next_batch"]["rms"],
                item["next_batch"]["within_tolerance"], item["next_batch"]["over_predicted_beyond_tolerance"],
            )
        )  # fmt: skip
        assert row[8:10] == (pytest.approx(item["cost"]), item["n_visits"])
    (marked,) = [row for row in rows if row[10] == "recommended"]
    assert marked[8] == pytest.approx(recommendation_document(made().told)["recommended_programme"]["cost"])
