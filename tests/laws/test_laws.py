"""What must hold of the whole recommendation whatever the records are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.pipeline import recommend
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.terms.plan.settings import Prior
from planner.terms.records import Records
from tests.laws.invented import AGES_H, plan_of, programme, settings

N_DRAWS = 60


def advice(records, asked=None, **options):
    return recommend(plan_of(records, asked), **{"n_draws": N_DRAWS, "workers": 1, **options})


def times(records, factor, wanted=None):
    """The same breaks with some strengths multiplied."""
    return replace(
        records,
        breaks=tuple(
            replace(item, strength_mpa=item.strength_mpa * factor) if wanted is None or wanted(item) else item
            for item in records.breaks
        ),
    )


def same_figures(one, other, *, rtol):
    for name in ("rms", "rms_measured", "bias", "mean_abs", "p95_abs", "monte_carlo_se"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=rtol, atol=1e-12, err_msg=name)


def test_units_of_strength_do_not_matter():
    records = programme()
    one, other = advice(records), advice(times(records, 2.0))
    assert other.recommended.schedule == one.recommended.schedule
    assert (other.recommended.curve, other.n_tied) == (one.recommended.curve, one.n_tied)
    same_figures(one.recommended.error, other.recommended.error, rtol=1e-7)
    np.testing.assert_allclose(other.honest.own_batch.nested_rms, one.honest.own_batch.nested_rms, rtol=1e-6)


def test_the_order_of_rows_and_batches_does_not_matter():
    records = programme()
    order = np.random.default_rng(2).permutation(len(records.breaks))
    shuffled = replace(records, breaks=tuple(records.breaks[i] for i in order))
    one, other = advice(records), advice(shuffled)
    assert other.recommended.schedule == one.recommended.schedule
    assert [choice.schedule for choice in other.tied] == [choice.schedule for choice in one.tied]
    same_figures(one.recommended.error, other.recommended.error, rtol=1e-7)
    np.testing.assert_allclose(other.honest.own_batch.nested_rms, one.honest.own_batch.nested_rms, rtol=1e-6)


def test_the_order_of_candidate_ages_does_not_matter():
    records = programme()
    one, other = advice(records), advice(records, settings(ages_h=AGES_H[::-1]))
    assert other.recommended == one.recommended


def test_a_biased_prediction_scores_its_bias():
    # Without scatter the hyperbola is exact, and the truth is 1.1 times the standard curve: 1/1.1 - 1 = -1/11.
    asked = settings(curves=("hyperbolic",), prior=Prior(standard_curing_c=20.0, within_test_cv=0.001))
    result = advice(programme(cv=0.0, site_factor=1.1), asked)
    np.testing.assert_allclose(result.recommended.error.bias, -1 / 11, rtol=1e-3)
    np.testing.assert_allclose(result.recommended.error.rms, 1 / 11, rtol=1e-3)
    np.testing.assert_allclose(result.recommended.error.worst_batch.error, -1 / 11, rtol=1e-7)
    assert result.recommended.error.worst_over_prediction is None
    np.testing.assert_allclose([fold.error for fold in result.honest.folds], -1 / 11, rtol=1e-7)
    np.testing.assert_allclose(result.honest.own_batch.nested_rms, 1 / 11, rtol=1e-3)
    assert result.honest.own_batch.over_predicted_any == 0


def test_over_prediction_is_positive():
    asked = settings(curves=("hyperbolic",), prior=Prior(standard_curing_c=20.0, within_test_cv=0.001))
    result = advice(programme(cv=0.0, site_factor=0.8), asked)
    np.testing.assert_allclose(result.recommended.error.worst_over_prediction.error, 0.25, rtol=1e-7)
    assert result.recommended.error.over_predicted_beyond_tolerance == 1.0
    assert result.recommended.error.within_tolerance == 0.0


def test_more_scatter_never_scores_better():
    records = programme()
    scores = []
    for cv in (0.01, 0.02, 0.04):
        found = advice(records, settings(prior=Prior(standard_curing_c=20.0, within_test_cv=cv))).choices
        scores.append(dict(zip(found.schedules, found.score, strict=True)))
    for schedule in scores[0]:
        assert scores[0][schedule] < scores[1][schedule] < scores[2][schedule]


def test_a_schedule_that_ruins_one_batch_is_never_recommended():
    # One 24 h cell broke at a third of its strength: every hyperbola that holds 24 h fails in that batch.
    records = times(programme(), 0.33, lambda item: item.batch == "B2" and item.age_h == 24.0)
    result = advice(records, settings(curves=("hyperbolic",)))
    assert 24.0 not in result.recommended.schedule.ages_h
    assert 24.0 not in result.best.schedule.ages_h
    assert all(24.0 not in choice.schedule.ages_h for choice in result.tied)


def test_no_seed_changes_the_recommendation():
    records = programme()
    one, other = advice(records, seed=1), advice(records, seed=2)
    for name in ("label", "schedule", "curve", "weighting", "maturity", "score", "schedule_rms"):
        assert getattr(one.recommended, name) == getattr(other.recommended, name), name
    assert [choice.schedule for choice in one.tied] == [choice.schedule for choice in other.tied]
    assert one.honest.folds == other.honest.folds
    assert one.recommended.error.rms != other.recommended.error.rms  # draws were drawn


def test_the_number_of_workers_changes_nothing():
    records = programme()
    documents = [recommendation_document(advice(records, workers=n)) for n in (1, 2)]
    for document in documents:
        document["search"].pop("seconds")
    assert documents[0] == documents[1]


EXTREME = {
    "weak": {"scale": 0.2 / 45},
    "strong": {"scale": 250 / 45},
    "one batch": {"n_batches": 1},
    "two batches": {"n_batches": 2},
    "single specimens": {"n_companions": 1},
    "no scatter at all": {"cv": 0.0},
    "wild scatter": {"cv": 0.4},
    "an hour to five years": {"ages_h": (1.0, 6.0, 12.0, 720.0, 8760.0, 43800.0)},
}


@pytest.mark.parametrize("case", EXTREME)
def test_extreme_programmes_give_finite_figures(case):
    how = EXTREME[case]
    records = programme(**how)
    curing = tuple(replace(item, elapsed_h=np.array([0.0, 50_000.0])) for item in records.curing_records)
    check_finite(replace(records, curing_records=curing), settings(ages_h=how.get("ages_h", AGES_H)))


def test_two_ages_only_give_finite_figures():
    records = programme(ages_h=(6.0, 24.0))
    check_finite(records, settings(ages_h=(6.0, 24.0), fewest_ages=2, most_ages=2))


def test_equal_strengths_give_finite_figures():
    records = programme()
    check_finite(replace(records, breaks=tuple(replace(item, strength_mpa=30.0) for item in records.breaks)))


def test_strength_that_falls_with_age_gives_finite_figures():
    records = programme()
    fallen = tuple(
        replace(item, strength_mpa=item.strength_mpa * (20.0 / item.age_h) ** 1.2) for item in records.breaks
    )
    check_finite(replace(records, breaks=fallen))


def check_finite(records: Records, asked=None):
    asked = replace(
        asked or settings(),
        curves=("hyperbolic", "exponential", "logarithmic", "piecewise linear", "piecewise linear in log age"),
    )
    result = advice(records, asked)
    shown = [result.recommended, result.best, *result.tied, *result.next_best]
    for choice in shown:
        figures = choice.error
        values = [figures.rms, figures.rms_measured, figures.mean_abs, figures.p95_abs, figures.monte_carlo_se]
        assert np.isfinite([choice.score, figures.bias, *values]).all(), choice
        assert min(choice.score, *values) >= 0
        for share in (figures.within_tolerance, figures.over_predicted_any, figures.over_predicted_beyond_tolerance):
            assert 0 <= share <= 1
    own = result.honest.own_batch
    if own is not None:
        assert np.isfinite([own.apparent_rms, own.nested_rms, own.rms_measured]).all()
        assert min(own.apparent_rms, own.nested_rms, own.rms_measured) >= 0
    later = result.honest.next_batch
    if later is not None:
        assert np.isfinite([later.rms, later.between_batch_cv, *later.rms_by_trial_batches]).all()
    judged = result.choices.n_batches > 0
    for column in (result.choices.score, result.choices.rms, result.choices.mean_abs, result.choices.p95_abs):
        assert np.isfinite(np.asarray(column)[judged]).all()
        assert (np.asarray(column)[judged] >= 0).all()
