"""Plans whose ages nobody has broken yet, through the whole program: grades, first lines, refusals, seeds."""

from __future__ import annotations

import html
import io
import math
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from planner.pipeline import minimum, price, recommend
from planner.population import judged_batches
from planner.population.judged_batches import basis_of, is_judged_by_breaks, some_batches
from planner.read import load_plan
from planner.report.documents.choices_file import COLUMNS, write_choices
from planner.report.documents.pages.page import render_page
from planner.report.documents.pages.page_headline import first_screen
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.steps import whole_calibration
from planner.terms.plan.settings import Plan
from planner.terms.problems import InputError
from planner.terms.results.after_casting.early_answer import EarlyBreakRow, EarlyBreaks
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.answers.recommendation.redaction import promised_fields
from tests.report.printed import print_recommendation
from tests.verdict.answers.test_redaction import values_of

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(autouse=True, scope="module")
def learnt_once() -> Iterator[None]:
    """Every question about one plan rests on the same population, which takes longest: it is learnt once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(judged_batches, "population_of", cache(judged_batches.population_of))
        yield


@cache
def plan_of(name: str) -> Plan:
    """A scenario with few specimens, so that its schedules are counted in hundreds."""
    plan = load_plan(SCENARIOS / name)
    settings = plan.settings
    choices = replace(settings.choices, most_ages=4, specimens_per_age=(2, 2))
    return replace(plan, settings=replace(settings, choices=choices, budget=replace(settings.budget, specimens=8)))


@cache
def told(name: str, seed: int = 1) -> Recommendation:
    return recommend(plan_of(name), n_draws=20, seed=seed, workers=1)


SPARSE = "tunnel-segments/sparse.toml"
NEW = "stair-core/plan.toml"


def screen(answer: Recommendation) -> str:
    console = Console(file=io.StringIO(), width=200, color_system=None)
    print_recommendation(answer, console, is_full=True)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


@pytest.mark.parametrize(("name", "grade", "n_batches"), [(SPARSE, "population", 3), (NEW, "published", 0)])
def test_evidence_is_graded_everywhere(name: str, grade: str, n_batches: int) -> None:
    answer = told(name)
    assert answer.evidence.grade == grade
    assert answer.evidence.n_batches == n_batches  # batches that were cast, not drawn ones
    assert answer.evidence.checked_against == "drawn"
    rows = write_choices(answer.choices).decode().splitlines()
    column = COLUMNS.index("evidence")
    assert {row.split(",")[column] for row in rows[1:]} == {grade}
    assert recommendation_document(answer)["evidence"]["grade"] == grade


@pytest.mark.parametrize("name", [SPARSE, NEW])
def test_the_first_line_says_what_it_rests_on_and_what_would_sharpen_it(name: str) -> None:
    answer = told(name)
    first = answer.evidence.first_line
    assert first.startswith("This rests on " + ("published growth alone" if name == NEW else "batches drawn"))
    assert answer.evidence.more[0].label.removeprefix("one batch at ") in first
    assert screen(answer).startswith(first)
    assert first in html.unescape(render_page(answer)).replace("\u00a0", " ")


def test_published_growth_below_three_days_promises_nothing() -> None:
    answer = told(NEW)
    assert answer.honest.own_batch is None
    assert answer.honest.next_batch is None
    assert answer.honest.safe_reading_factor is None
    assert answer.checks is None
    assert answer.sufficiency is None
    assert answer.by_temperature == ()
    assert "of batches lie within" not in answer.honest.sentence
    assert "published-growth-promises-nothing" in {caution.code for caution in answer.cautions}
    assert np.isnan(answer.recommended.error.within_tolerance)
    assert np.all(np.isnan(answer.choices.within_tolerance))
    assert recommendation_document(answer)["recommended"]["error"]["within_tolerance"] is None
    assert np.all(np.diff(answer.choices.score[np.isfinite(answer.choices.score)]) >= 0)  # but it puts them in order


def test_what_is_added_to_the_advice_promises_nothing_either(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every value of the final result is walked; early breaks that promise much are put in as a later step would."""
    row = EarlyBreakRow(
        ages_h=(), specimens=(), n_trial_batches=0, reading="records", rms=0.05, rms_upper_95=0.08,
    is_below_resolution=False,
    within_tolerance=0.95, over_predicted_beyond_tolerance=0.01, reads_within=0.09, safe_reading_factor=1.1,
        rms_by_target=(0.05,), rms_records=0.05, rms_records_and_trial=None, rms_rescaled=None,
    )  # fmt: skip
    early = EarlyBreaks(
        rows=(row,), recommended=None, is_enough=False, n_batches=0, n_plans=1, n_pours=None, currency="", sentences=()
    )
    monkeypatch.setattr(whole_calibration, "early_breaks", lambda *_: early)
    monkeypatch.setattr(whole_calibration, "if_then", lambda *_: None)
    answer = recommend(plan_of(NEW), n_draws=20, seed=1, workers=1)
    assert answer.early_breaks is not None
    assert answer.early_breaks.rows[0].rms == 0.05
    for value in values_of(answer):
        for name in promised_fields(type(value)):
            figure = getattr(value, name)
            assert figure is None or np.isnan(figure).all(), f"{type(value).__name__}.{name}"


def test_no_legend_holds_the_tolerance_against_published_growth_below_three_days() -> None:
    answer = told(NEW)
    console = Console(file=io.StringIO(), width=200, color_system=None)
    print_recommendation(answer, console)
    assert isinstance(console.file, io.StringIO)
    for text in (screen(answer), console.file.getvalue(), render_page(answer)):
        words = " ".join(text.split())
        assert "Below 3 d published growth promises no error" in words
        assert "No error can be promised at 18 h, nor at 3 d as long as it is judged together with that" in words
        assert "within 10.0 %" not in words
        assert "olerance 10.0 %" not in words
        assert "errors on these records" not in words.casefold()  # there are none
    assert {figure for figure, _ in first_screen(answer, ()).figures} == {"?"}


def test_published_growth_from_three_days_on_is_held_against_the_tolerance() -> None:
    plan = plan_of(NEW)
    late = replace(plan, settings=replace(plan.settings, target=replace(plan.settings.target, ages_h=(72.0,))))
    text = " ".join(screen(recommend(late, n_draws=20, workers=1)).split())
    assert "inside: share of batches within 10.0 %" in text
    assert "promises no error" not in text


def test_a_price_is_refused_where_no_error_is_promised() -> None:
    with pytest.raises(InputError, match="promises no error at targets below 3 d"):
        price(plan_of(NEW), workers=1)


@pytest.mark.parametrize("name", [SPARSE, NEW])
def test_the_least_is_an_interim_clause_where_nothing_that_was_broken_judges(name: str) -> None:
    answer = minimum(plan_of(name), n_draws=20, workers=1)
    assert answer.clause.kind == "interim"
    assert answer.clause.error is None
    assert answer.together.judged_on is None
    assert answer.targets == (answer.together,)
    demanded = tuple(age.age_h for age in answer.clause.ages), tuple(age.n_specimens for age in answer.clause.ages)
    chosen = answer.recommendation.recommended.schedule
    assert demanded == (chosen.ages_h, chosen.specimens)


def test_untested_ages_are_named_with_the_nearest_tested_one() -> None:
    answer = told(SPARSE)
    (text,) = [caution.text for caution in answer.cautions if caution.code == "untested-ages"]
    assert "8 h" in text
    assert "14 h" in text
    assert "the nearest (1 d)" in text
    assert "age-not-in-records" not in {caution.code for caution in answer.cautions}
    assert min(answer.candidate_ages_h) < 24.0  # offered, not dropped


def test_every_age_has_the_mean_strength_of_the_drawn_batches() -> None:
    drawn = {item["age_h"]: item["drawn_mpa"] for item in recommendation_document(told(NEW))["ages"]}
    # EN 1992-1-1, class N (s = 0.25), 50 MPa at 28 d: 0.78 of it at 7 d; batches of 8 % and mixes differ about that
    assert drawn[168.0] == pytest.approx(50.0 * math.exp(0.25 * (1.0 - math.sqrt(28.0 / 7.0))), rel=0.1)
    assert list(drawn.values()) == sorted(drawn.values())
    broken = [item.strength_mpa for item in plan_of(SPARSE).records.breaks if item.age_h == 24.0]
    sparse = {item["age_h"]: item["drawn_mpa"] for item in recommendation_document(told(SPARSE))["ages"]}
    assert sparse[24.0] == pytest.approx(sum(broken) / len(broken), rel=0.1)
    assert all(role.drawn_mpa is None for role in told("tunnel-segments/plan.toml").ages)


@pytest.mark.parametrize("name", [SPARSE, NEW])
def test_no_seed_changes_the_recommendation(name: str) -> None:
    one, other = told(name), told(name, seed=99)
    assert one.recommended.schedule == other.recommended.schedule
    assert one.recommended.curve == other.recommended.curve
    assert one.honest.sentence == other.honest.sentence
    assert one.honest.per_target == other.honest.per_target


def test_errors_are_told_over_the_sites_temperatures() -> None:
    answer = told(SPARSE)
    rows = answer.by_temperature
    assert [row.temperature_c for row in rows] == pytest.approx([15.0, 17.5, 20.0, 22.5, 25.0])
    assert "Error against mean concrete temperature" in screen(answer)
    assert len(recommendation_document(answer)["by_temperature"]) == len(rows)
    mean_square = np.mean([row.rms**2 for row in rows])
    assert answer.honest.own_batch is not None
    assert np.sqrt(mean_square) == pytest.approx(answer.honest.own_batch.nested_rms, rel=1e-6)


def test_drawn_batches_give_no_bound_and_more_breaks_sharpen_the_mix() -> None:
    answer = told(SPARSE)
    own, later = answer.honest.own_batch, answer.honest.next_batch
    assert own is not None
    assert later is not None
    assert own.rms_upper_95 is None
    assert later.rms_upper_95 is None
    assert later.rms >= own.nested_rms
    assert later.basis == "population"
    best = answer.evidence.more[0]
    assert best.spread_now is not None
    assert best.spread_after is not None
    assert best.spread_after < best.spread_now
    assert "would leave" in answer.evidence.more_sentence


def test_breaks_judge_where_every_age_was_broken_often_enough() -> None:
    plan = load_plan(SCENARIOS / "tunnel-segments" / "plan.toml")
    records, settings = plan.records, plan.settings
    assert is_judged_by_breaks(records, settings)
    assert basis_of(plan).grade == "measured"
    more = replace(settings.choices, ages_h=(*settings.choices.ages_h, 36.0))
    assert not is_judged_by_breaks(records, replace(settings, choices=more))
    late = replace(settings.budget, latest_age_h=30.0)  # an age that may not be broken anyway needs no records
    assert is_judged_by_breaks(records, replace(settings, choices=more, budget=late))
    kept = records.batches[:2]  # broken at one age in two of the batches only
    thin = replace(
        records,
        breaks=tuple(b for b in records.breaks if b.batch in kept or b.curing != "standard" or b.age_h != 18.0),
    )
    assert not is_judged_by_breaks(thin, settings)


def test_measured_answers_say_what_one_more_batch_would_do() -> None:
    answer = told("tunnel-segments/plan.toml")
    assert answer.evidence.grade == "measured"
    assert answer.evidence.first_line == ""
    assert answer.honest.own_batch is not None
    (gain,) = answer.evidence.more
    assert gain.bound_now is not None
    assert gain.bound_after is not None
    assert gain.bound_after < gain.bound_now
    assert gain.bound_now == answer.honest.own_batch.rms_upper_95  # what a batch more makes of it: tests/oracle


def test_some_batches_still_weigh_up_to_one_in_every_unit() -> None:
    cells = basis_of(plan_of(SPARSE)).cells
    fewer = some_batches(cells)
    assert len(fewer.views) == len(cells.views.batch) // 3
    for own in (cells, fewer):
        np.testing.assert_allclose(np.bincount(own.check_unit, weights=own.checks.weight), 1.0)
