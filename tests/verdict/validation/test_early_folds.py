"""Early breaks chosen without each pour: nothing of it is seen, and what is told of it, by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from planner.mixed_model import HeldOutErrors, TrialBatches, enumerate_early_plans, judge_early_plans
from planner.terms.arrays import IntArray
from planner.terms.plan.settings import Target
from planner.verdict.answers.early_breaks.early_break_prices import EarlyPrices
from planner.verdict.answers.early_breaks.early_break_study import _held_out, _rows
from planner.verdict.answers.early_breaks.judged_early_plans import JudgedPlans, _counts
from planner.verdict.validation.early_figures import by_batch
from planner.verdict.validation.early_folds import EarlyFolds, early_folds, most_trials
from planner.verdict.validation.pours_of_cells import Pours
from tests.mixed_model.invented_batches import invented_batches
from tests.mixed_model.test_early_plans import SCHEDULE, pours_of
from tests.verdict.answers.early_breaks_by_hand import answered

PLANS = enumerate_early_plans(2, (1, 2), 2)
TARGET = Target(ages_h=(24.0, 72.0), tolerance=0.10)


def pours(n_batches: int, *, factor_of_first: float = 1.0) -> Pours:
    """Invented batches with early breaks at the first two ages; the first batch stronger by a factor."""
    batches = invented_batches(n_batches, 4)
    mean = batches.mean_mpa.copy()
    mean[0] *= factor_of_first
    held = pours_of(replace(batches, mean_mpa=mean))
    held = replace(
        held,
        early_mean_mpa=held.early_mean_mpa[:, :2],
        early_n_specimens=held.early_n_specimens[:, :2],
        early_maturity_h=held.early_maturity_h[:, :2],
        is_before=held.is_before[:, :2],
    )
    n_each = np.bincount(held.check_batch)
    place = np.concatenate([np.arange(n) for n in n_each])
    return Pours(
        held_out=held, columns=np.arange(mean.shape[1]), early_cv=batches.cv[:2], check_target=place,
        check_weight=1.0 / n_each[held.check_batch],
    )  # fmt: skip


def rescaled_not(_trials: TrialBatches, _without: int | None) -> HeldOutErrors | None:
    return None


@lru_cache(maxsize=4)
def all_folds(n_batches: int, factor_of_first: float = 1.0, most: int = 1) -> tuple[Pours, tuple[EarlyFolds, ...]]:
    about = pours(n_batches, factor_of_first=factor_of_first)
    return about, early_folds(about, PLANS, SCHEDULE, most, rescaled_not, _counts(PLANS))


def folds(n_batches: int, factor_of_first: float = 1.0, most: int = 1) -> tuple[Pours, EarlyFolds]:
    """After the most trial batches."""
    about, found = all_folds(n_batches, factor_of_first, most)
    return about, found[-1]


def test_what_a_fold_chooses_by_has_not_seen_its_pour() -> None:
    (about, plain), (_, other) = folds(6), folds(6, 1.3)
    assert plain.is_strict
    assert plain.readings[0] == other.readings[0]
    one, two = plain.chosen_by[0], other.chosen_by[0]
    assert np.array_equal(one.error, two.error, equal_nan=True)
    assert np.isnan(one.level()[:, about.held_out.check_batch == 0]).all()
    assert not np.array_equal(plain.chosen_by[1].error, other.chosen_by[1].error, equal_nan=True)  # so it can fail


def test_a_pour_is_judged_under_the_reading_chosen_without_it() -> None:
    about, found = folds(6)
    for b in range(6):
        at = about.held_out.check_batch == b
        whole = found.whole[found.readings[b]].level()
        assert found.errors.level()[:, at] == pytest.approx(whole[:, at], nan_ok=True)


def test_with_three_batches_nobody_can_be_left_out_of_what_is_learnt() -> None:
    _, found = folds(3, most=0)
    assert not found.is_strict
    assert set(found.whole) == {"records"}


def test_trial_batches_are_compared_where_every_fold_can_judge_them() -> None:
    """Pour, fold and trial batches left out, two batches tell the spread."""
    assert [most_trials(n, 3) for n in (3, 4, 5, 6, 7, 9)] == [0, 0, 1, 2, 3, 3]
    assert most_trials(9, 1) == 1
    assert most_trials(30, 8) == 3
    _, found = all_folds(6, most=2)
    assert [one.n_trial_batches for one in found] == [0, 1, 2]
    assert [set(one.whole) for one in found] == [{"records"}] + [{"records", "records and trial"}] * 2
    assert all(one.is_strict for one in found)


def test_the_records_are_judged_with_as_many_batches_kept_out_as_trial_batches_are() -> None:
    about, found = all_folds(6, most=2)
    alone = judge_early_plans(about.held_out, PLANS, trials=TrialBatches(specimens=SCHEDULE, number=0, most=2))
    for one in found:
        assert np.array_equal(one.whole["records"].error, alone.error, equal_nan=True)
    fuller = judge_early_plans(about.held_out, PLANS)
    assert not np.allclose(np.nanmean(alone.error, axis=0), fuller.error[0])


def least(level: np.ndarray, rows: IntArray) -> int:
    return int(rows[np.argmin(np.nanmean(level[rows], axis=1))])


def test_the_whole_choice_repeated_without_each_pour_by_hand() -> None:
    """No plan reaches a tolerance next to nothing: the cheapest within what is immaterial of the best is taken."""
    about, found = all_folds(7, most=2)
    settings = answered(5, True, 3)[0].settings
    target = replace(settings.target, tolerance=1e-4, immaterial=0.004)
    settings = replace(settings, target=target, costs=None)
    assert settings.pours is not None
    prices = EarlyPrices(costs=None, pours=settings.pours, n_trial_specimens=9, calibration=lambda _number: None)
    study = JudgedPlans(about, (4.0, 6.0), PLANS, _counts(PLANS), found, None, prices, about.held_out.batches)
    recommended = _rows(study, found[1], settings)[1]
    anew = _held_out(study, settings, recommended, (0, 1, 2))
    assert anew is not None
    levels, floors, alike = [], [], 0
    for b in range(7):
        options = []
        for number, folds_of in enumerate(found):
            level = by_batch(folds_of.chosen_by[b].level(), about)
            level[:, b] = np.nan
            variance = by_batch(folds_of.chosen_by[b].variance(), about)
            variance[:, b] = np.nan
            for candidates in study.counts:
                plan = least(level, candidates)
                rms = np.sqrt(max(np.nanmean(level[plan]), np.nanmean(variance[plan])))
                options.append((rms, 9 * number + 40 * int(PLANS[plan].sum()), number, plan))
        best = min(option[0] for option in options)
        _, _, number, plan = min((one for one in options if one[0] <= best + 0.004), key=lambda one: one[1])
        reading = found[number].readings[b]
        own = found[number].whole[reading]
        levels.append(by_batch(own.level(), about)[plan, b])
        floors.append(by_batch(own.variance(), about)[plan, b])
        broken = tuple((4.0, 6.0)[i] for i in np.flatnonzero(PLANS[plan]))
        counts = tuple(int(n) for n in PLANS[plan] if n)
        alike += (number, reading, broken, counts) == (
            1, recommended.reading, recommended.ages_h, recommended.specimens
        )  # fmt: skip
    assert anew.rms == pytest.approx(np.sqrt(max(np.mean(levels), np.mean(floors))), rel=1e-9)
    assert anew.n_alike == alike
    assert anew.is_strict
