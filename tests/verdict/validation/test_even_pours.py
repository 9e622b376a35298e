"""Of many batches an even choice plays the pours: what is judged rests on those, what is learnt on all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.evidence import tabulate
from planner.mixed_model import judge_early_plans
from planner.pipeline import recommend
from planner.population import basis_of
from planner.steps.searching import Work, search_of
from planner.verdict.answers.continuing import pour_if_then
from planner.verdict.answers.continuing.first_breaks import EarlierBatches
from planner.verdict.answers.early_breaks import judged_early_plans
from planner.verdict.answers.early_breaks.early_break_prices import EarlyPrices
from planner.verdict.answers.early_breaks.judged_early_plans import judged_plans
from planner.verdict.statistics import left_out
from planner.verdict.validation.early_figures import by_batch
from planner.verdict.validation.pours_of_cells import pours_of_cells, some_pours
from planner.verdict.wording.programmes.early_break_words import even_choice_words
from tests.verdict.answers.early_breaks_by_hand import POURS, small_plan


def with_pours(n_batches: int):  # type: ignore[no-untyped-def]
    plan = small_plan(n_batches=n_batches, is_on_site=True)
    return replace(plan, settings=replace(plan.settings, pours=POURS))


def test_some_batches_are_chosen_evenly_with_all_that_is_theirs() -> None:
    plan = with_pours(7)
    cells = tabulate(plan.records, plan.settings)
    names = tuple(dict.fromkeys(cells.views.batch))
    fewer = some_pours(cells, 4)
    assert tuple(dict.fromkeys(fewer.views.batch)) == names[::2]
    checked = {cells.views.batch[view] for view in cells.checks.view} & set(names[::2])
    assert {fewer.views.batch[view] for view in fewer.checks.view} == checked
    assert some_pours(cells, 7).views.batch == cells.views.batch


def test_plans_are_judged_as_if_only_the_chosen_had_been_cast_and_learnt_from_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plan = with_pours(7)
    search = search_of(plan, basis_of(plan), Work.of(1, 1, 1, None))
    recommended = recommend(plan, n_draws=2, workers=1).recommended
    prices = EarlyPrices(costs=None, pours=POURS, n_trial_specimens=6, calibration=lambda _: None)
    monkeypatch.setattr(judged_early_plans, "MOST_POURS", 5)
    study = judged_plans(search, POURS, recommended, prices)
    fewer = replace(search, basis=replace(search.basis, cells=some_pours(search.cells, 5)))
    alone = judged_plans(fewer, POURS, recommended, prices)
    assert study.records.n_batches == 7
    assert alone.records.n_batches == study.pours.held_out.batches.n_batches == 5
    assert len(study.folds) == len(alone.folds) > 1
    for one, other in zip(study.folds, alone.folds, strict=True):
        for name in one.whole:
            assert np.array_equal(one.whole[name].error, other.whole[name].error, equal_nan=True)


def test_it_is_said_and_models_learn_from_all(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = recommend(with_pours(7), n_draws=2, workers=1)
    monkeypatch.setattr(judged_early_plans, "MOST_POURS", 5)
    some = recommend(with_pours(7), n_draws=2, workers=1)
    assert whole.early_breaks is not None
    assert some.early_breaks is not None
    assert (whole.early_breaks.n_batches, some.early_breaks.n_batches) == (7, 5)
    assert [model.n_batches for model in some.early_breaks.models] == [7] * len(some.early_breaks.models)
    words = even_choice_words(5, 7)
    assert "5 of the 7 earlier batches" in words[0]
    assert words[0] in some.early_breaks.sentences
    assert not [text for text in whole.early_breaks.sentences if "evenly chosen" in text]
    assert even_choice_words(7, 7) == ()


def test_checks_of_some_batches_are_read_from_all_others() -> None:
    plan = with_pours(6)
    cells = tabulate(plan.records, plan.settings)
    pours = pours_of_cells(cells, (4.0, 8.0), (0.5, 0.5), setting=0)
    noise = np.linspace(0.001, 0.002, len(pours.check_target))
    pours = replace(pours, held_out=replace(pours.held_out, check_noise=noise))
    plans = np.array([[0, 0], [1, 0], [1, 1]])
    tried = np.array([1, 4])
    part = pours.checked_in(tried)
    kept = np.isin(pours.held_out.check_batch, tried)
    assert part.held_out.batches.n_batches == 6
    assert set(part.held_out.check_batch.tolist()) == {1, 4}
    assert np.array_equal(part.check_weight, pours.check_weight[kept])
    assert np.array_equal(part.check_target, pours.check_target[kept])
    errors, whole = judge_early_plans(part.held_out, plans), judge_early_plans(pours.held_out, plans)
    assert np.array_equal(errors.error, whole.error[:, :, kept], equal_nan=True)
    level = by_batch(errors.level(), part)
    assert np.array_equal(level[:, tried], by_batch(whole.level(), pours)[:, tried])
    assert np.isnan(level[:, [0, 2, 3, 5]]).all()  # a batch without a check is not one that is read without error


def test_the_table_of_a_pour_is_replayed_on_an_even_choice(monkeypatch: pytest.MonkeyPatch) -> None:
    """Everybody is asked for one specimen more: both errors are those of the tried alone."""
    plan = with_pours(7)
    cells = tabulate(plan.records, plan.settings)
    pours = pours_of_cells(cells, (4.0, 8.0), (0.5, 0.5), setting=0)
    names = tuple(dict.fromkeys(cells.views.batch))
    earlier = EarlierBatches.of(names, cells.ages_h[pours.columns], pours.held_out.batches)
    monkeypatch.setattr(pour_if_then, "ODD", 1.0)
    everyone = pour_if_then._replayed_pours(pours, (1, 1), earlier, 4.0, 0.0)
    monkeypatch.setattr(left_out, "MOST_LEFT_OUT", 4)
    some = pour_if_then._replayed_pours(pours, (1, 1), earlier, 4.0, 0.0)
    assert (everyone.n_tried, some.n_tried) == (7, 4)
    assert (everyone.n_added, some.n_added) == (7, 4)
    errors = judge_early_plans(pours.held_out, np.array([[1, 1], [1, 2]]))
    tried = [0, 2, 4, 6]
    level, variance = (by_batch(values, pours)[:, tried].mean(axis=1) for values in (errors.level(), errors.variance()))
    expected = np.sqrt(np.maximum(level, variance))
    assert (some.error_planned, some.error_followed) == pytest.approx(tuple(expected), rel=1e-9)
