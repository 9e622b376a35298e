"""A stated site range that the site records do not cover: errors over it from drawn batches, nothing else changed."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.terms.plan.settings import Plan
from planner.terms.records import CuringRecord, Records
from planner.terms.results.recommended.recommendation import Recommendation
from tests.population.invented_breaks import plan, programme

AGES_H = (12.0, 24.0, 72.0, 168.0)
TARGETS_H = (12.0, 24.0)
SITE_C = {"B1": 16.0, "B2": 19.0, "B3": 22.0}  # mean of each record
AT_STANDARD = {"B1": 0.90, "B2": 0.97, "B3": 1.05}  # share of the standard-cured strength, roughly as at these C
COVERED, BEYOND = (15.5, 22.5), (1.0, 29.0)


def invented_records(*, is_logged: bool = True) -> Records:
    """Three batches with site-cured companions at the targets, each in concrete of a constant temperature."""
    made = programme(5, n_batches=3, ages_h=AGES_H, n_specimens=4)  # seed 5; nothing below hangs on it
    companions = tuple(
        replace(item, curing="site", strength_mpa=item.strength_mpa * AT_STANDARD[item.batch])
        for item in made.breaks
        if item.age_h in TARGETS_H
    )
    hours = np.arange(0.0, 25.0, 4.0)
    logged = tuple(
        CuringRecord(batch=b, curing="site", placement="", elapsed_h=hours, temperature_c=np.full(len(hours), mean_c))
        for b, mean_c in SITE_C.items()
    )
    return replace(made, breaks=made.breaks + companions, curing_records=logged if is_logged else ())


@cache
def told(site_c: tuple[float, float] | None, *, is_by_age: bool = False) -> Recommendation:
    given: dict[str, Any] = {"standard_curing_c": None} if is_by_age else {}
    settings = plan(targets_h=TARGETS_H, ages_h=AGES_H, site_c=site_c, **given)
    settings = replace(settings, curves=("hyperbolic", "logarithmic"))
    return recommend(Plan(settings=settings, records=invented_records(is_logged=not is_by_age)), n_draws=10, workers=1)


def codes(answer: Recommendation) -> set[str]:
    return {caution.code for caution in answer.cautions}


def without(answer: Recommendation, *keys: str) -> dict[str, Any]:
    document = recommendation_document(answer)
    del document["search"]["seconds"]
    for key in keys:
        del document[key]
    return document


def test_a_covered_range_adds_nothing() -> None:
    assert told(COVERED).evidence.grade == "measured"
    assert told(COVERED).by_temperature == ()
    assert without(told(COVERED)) == without(told(None))


def test_a_range_beyond_the_records_is_scored_on_drawn_batches() -> None:
    answer = told(BEYOND)
    assert answer.evidence.grade == "measured"
    places = [(row.target_age_h, row.temperature_c) for row in answer.by_temperature]
    assert places == [(age, c) for age in TARGETS_H for c in (1.0, 8.0, 15.0, 22.0, 29.0)]
    for row in answer.by_temperature:
        assert all(math.isfinite(value) for value in (row.bias, row.rms, row.low_05, row.high_95))
        assert row.rms > 0.0
        assert row.rms >= abs(row.bias)
        assert row.low_05 < row.high_95
        assert 0.0 <= row.over_predicted_beyond_tolerance <= 1.0 - row.within_tolerance <= 1.0
    (said,) = [caution.text for caution in answer.cautions if caution.code == "site-range-drawn"]
    assert "every other figure is measured" in said


def test_every_other_figure_stays_as_it_is_without_the_range() -> None:
    changed = ("by_temperature", "cautions")
    assert without(told(BEYOND), *changed) == without(told(None), *changed)
    assert codes(told(None)) < codes(told(BEYOND))
    np.testing.assert_array_equal(told(BEYOND).choices.score, told(None).choices.score)


def test_what_the_drawing_warns_of_is_handed_on() -> None:
    # 12 h at 1 C are 3.7 h at 20 C (Q 5000 K, derived); the concrete sets at about 4 h, so some batches drop out.
    of_drawing = {"drawn-not-set", "site-range-looks-like-weather"}
    assert codes(told(BEYOND)) - codes(told(None)) == {"site-range-drawn", "site-outside-records", *of_drawing}
    assert len(told(BEYOND).cautions) == len(set(told(BEYOND).cautions))  # nothing of the records is said twice


@pytest.mark.parametrize("site_c", [None, BEYOND])
def test_age_as_clock_scores_no_temperature(site_c: tuple[float, float] | None) -> None:
    answer = told(site_c, is_by_age=True)
    assert answer.recommended.maturity.method == "age"
    assert "age-is-the-clock" in codes(answer)
    assert answer.by_temperature == ()
    assert not {"site-range-drawn", "site-not-scored"} & codes(answer)
