"""Held-out judgement of early plans against a slow loop, finite differences and identities."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from planner.mixed_model import (
    CellMeans,
    HeldOutPours,
    PriorBatches,
    TrialBatches,
    enumerate_early_plans,
    estimate_growth_prior,
    judge_early_plans,
    read_pour,
)
from planner.mixed_model.reading import Reading
from planner.mixed_model.trial_batches import trial_sets
from planner.terms.arrays import IntArray
from tests.mixed_model.invented_batches import CV, growth_mpa, invented_batches

TARGETS = (2, 4)  # 8 h and 24 h of the invented ages
EARLY = (0, 1, 2)  # 4, 6 and 8 h
SCHEDULE = np.array([2, 0, 3, 0, 2, 0, 2])
CAST = TrialBatches(specimens=SCHEDULE)


def pours_of(batches: PriorBatches, *, truth_factor: float = 1.0) -> HeldOutPours:
    """Every batch checked at 8 h and 24 h against its own cells there."""
    check_batch, column = (index.ravel() for index in np.meshgrid(range(batches.n_batches), TARGETS, indexing="ij"))
    early = list(EARLY)
    return HeldOutPours(
        batches=batches,
        early_mean_mpa=batches.mean_mpa[:, early],
        early_n_specimens=batches.n_specimens[:, early],
        early_maturity_h=batches.maturity_h[:, early],
        check_batch=check_batch,
        check_maturity_h=batches.maturity_h[check_batch, column],
        check_truth_mpa=truth_factor * batches.mean_mpa[check_batch, column],
        check_noise=batches.cv[column] ** 2 / batches.n_specimens[check_batch, column],
        is_before=np.array(EARLY)[None, :] < column[:, None],
    )


def slow_reading(
    pours: HeldOutPours, plan: IntArray, check: int, trials: tuple[int, ...], n_told: int, n_known: int | None = None
) -> Reading:
    """Estimate anew without the pour and the trial batches, read with the general function from the first of them.

    With `n_known` the same population is known from so many batches.
    """
    batch = int(pours.check_batch[check])
    prior = estimate_growth_prior(pours.batches.without([batch, *trials]))
    if n_known is not None:
        noise = prior.knot_noise * (pours.batches.n_batches - 1 - len(trials)) / n_known
        prior = replace(prior, n_batches=n_known, knot_noise=noise)
    broken = [i for i in range(len(plan)) if plan[i] > 0 and pours.is_before[check, i]]
    early = CellMeans(
        maturity_h=pours.early_maturity_h[batch, broken],
        mean_mpa=pours.early_mean_mpa[batch, broken],
        n_specimens=plan[broken].astype(float),
    )
    ages = np.flatnonzero(SCHEDULE)
    cast = [
        CellMeans(
            maturity_h=pours.batches.maturity_h[trial, ages],
            mean_mpa=pours.batches.mean_mpa[trial, ages],
            n_specimens=SCHEDULE[ages].astype(float),
        )
        for trial in trials[:n_told]
    ]
    return read_pour(prior, pours.check_maturity_h[[check]], early=early if broken else None, trials=cast)


def ring(first: int, pour: int, n_batches: int, most: int) -> tuple[int, ...]:
    """The batch and the next ones that are not the pour, once round."""
    order = [(first + step) % n_batches for step in range(n_batches) if (first + step) % n_batches != pour]
    return tuple(order[:most])


@pytest.mark.parametrize(
    ("number", "most", "n_batches"), [(0, 0, 4), (1, 1, 4), (0, 1, 5), (2, 2, 6), (1, 3, 7), (3, 3, 7)]
)
def test_errors_equal_the_slow_loop(number: int, most: int, n_batches: int) -> None:
    """As many batches kept out whatever number of trial batches is read; what they would tell is put back."""
    pours = pours_of(invented_batches(n_batches, 6))
    plans = enumerate_early_plans(3, (1, 2), 3)
    cast = TrialBatches(specimens=SCHEDULE, number=number, most=most) if most else None
    errors = judge_early_plans(pours, plans, trials=cast)
    assert errors.error.shape == (n_batches if most else 1, len(plans), 2 * n_batches)
    for first, p, check in product(range(errors.error.shape[0]), range(0, len(plans), 5), range(0, 2 * n_batches, 3)):
        pour = int(pours.check_batch[check])
        at = (first, p, check)
        if most and first == pour:
            assert np.isnan(errors.error[at])
            continue
        trials = ring(first, pour, n_batches, most)
        slow = slow_reading(pours, plans[p], check, trials, number)
        fuller = slow_reading(pours, plans[p], check, trials, number, n_batches - 1)
        truth = pours.check_truth_mpa[check]
        assert errors.error[at] == pytest.approx(slow.strength_mpa[0] / truth - 1.0, abs=1e-9)
        assert errors.stated_variance[at] == pytest.approx(fuller.log_sd[0] ** 2, rel=1e-9)
        lacking = slow.log_sd[0] ** 2 - fuller.log_sd[0] ** 2
        assert errors.kept_out_variance[at] == pytest.approx(lacking, abs=1e-12)
        assert bool(lacking > 1e-6) is (most > 0)


def test_every_batch_stands_equally_often_at_every_place() -> None:
    sets = trial_sets([0, 2, 3, 5], 3)
    assert len(sets) == 4
    for place in range(3):
        assert sorted(one[place] for one in sets) == [0, 2, 3, 5]
    assert trial_sets([0, 2, 3], 0) == [()]


@pytest.mark.parametrize(("number", "most"), [(2, 1), (-1, 1)])
def test_refuses_numbers_of_trial_batches_that_are_none(number: int, most: int) -> None:
    with pytest.raises(ValueError, match=f"given {number} and {most}"):
        TrialBatches(specimens=SCHEDULE, number=number, most=most)


def test_nothing_is_learnt_from_the_batch_left_out() -> None:
    """Its cells twice as strong change no error of the others, as pour or as trial batch."""
    batches = invented_batches(6, 6)
    mean = batches.mean_mpa.copy()
    mean[2] *= 2.0
    cast, plan = TrialBatches(specimens=SCHEDULE, number=2, most=2), np.array([[1, 0, 0]])
    found = [
        judge_early_plans(pours_of(one), plan, trials=cast, without=2)
        for one in (batches, replace(batches, mean_mpa=mean))
    ]
    assert np.array_equal(found[0].error, found[1].error, equal_nan=True)
    assert np.isnan(found[0].error[2]).all()
    is_left_out = pours_of(batches).check_batch == 2
    assert np.isnan(found[0].error[:, :, is_left_out]).all()
    assert np.isfinite(found[0].error[0, 0, ~is_left_out & (pours_of(batches).check_batch != 0)]).all()


def test_variances_equal_finite_differences() -> None:
    """The reading moved by a small change of each log mean, squared, times its noise."""
    pours, step = pours_of(invented_batches(5, 6)), 1e-4
    plan, check, trial = np.array([2, 1, 0]), 1, 3
    two = TrialBatches(specimens=SCHEDULE, number=2, most=2)
    errors = judge_early_plans(pours, plan[None], trials=two)
    batch = int(pours.check_batch[check])
    at = (trial, 0, check)
    log_at = np.log1p(errors.error[at])
    expected = {"plan": 0.0, "cell": 0.0}
    prior = estimate_growth_prior(pours.batches.without([batch, trial, 4]))
    for i in np.flatnonzero(plan):
        moved = pours.early_mean_mpa.copy()
        moved[batch, i] *= np.exp(step)
        shifted = judge_early_plans(replace(pours, early_mean_mpa=moved), plan[None], trials=two)
        gain = (np.log1p(shifted.error[at]) - log_at) / step
        scatter = float(prior.cv_at(pours.early_maturity_h[batch, [i]])[0]) ** 2
        expected["plan"] += gain**2 * scatter / plan[i]
        expected["cell"] += gain**2 * scatter / pours.early_n_specimens[batch, i]
    for cast, i in product((trial, 4), np.flatnonzero(SCHEDULE)):  # the next batch is the second trial batch
        mean = pours.batches.mean_mpa.copy()
        mean[cast, i] *= np.exp(step)
        other = replace(pours, batches=replace(pours.batches, mean_mpa=mean))
        gain = (np.log1p(judge_early_plans(other, plan[None], trials=two).error[at]) - log_at) / step
        scatter = float(prior.cv_at(pours.batches.maturity_h[cast, [i]])[0]) ** 2
        expected["plan"] += gain**2 * scatter / SCHEDULE[i]
        expected["cell"] += gain**2 * scatter / pours.batches.n_specimens[cast, i]
    assert errors.plan_variance[at] == pytest.approx(expected["plan"], rel=1e-3)
    assert errors.cell_variance[at] == pytest.approx(expected["cell"], rel=1e-3)


def test_stated_variance_is_that_of_the_reading() -> None:
    pours = pours_of(invented_batches(5, 6))
    errors = judge_early_plans(pours, np.array([[1, 2, 0]]))
    prior = estimate_growth_prior(pours.batches.without([1]))
    early = CellMeans(
        maturity_h=pours.early_maturity_h[1, :2], mean_mpa=pours.early_mean_mpa[1, :2], n_specimens=np.array([1.0, 2.0])
    )
    reading = read_pour(prior, pours.check_maturity_h[[2]], early=early)
    assert errors.stated_variance[0, 0, 2] == pytest.approx(reading.log_sd[0] ** 2, rel=1e-9)


def test_a_bias_is_an_error_whatever_is_broken() -> None:
    """Equal batches without scatter, truths 0.8 of what is read: every plan errs by exactly 25 %."""
    maturity = np.tile(np.array([4.0, 6.0, 8.0, 12.0, 24.0, 72.0, 168.0]), (5, 1))
    batches = PriorBatches(
        mean_mpa=growth_mpa(maturity, np.ones((5, 1))),
        n_specimens=np.full(maturity.shape, 3.0),
        maturity_h=maturity,
        cv=CV,
    )
    errors = judge_early_plans(pours_of(batches, truth_factor=0.8), enumerate_early_plans(3, (1, 3), 4))
    assert errors.error == pytest.approx(np.full(errors.error.shape, 0.25), abs=1e-9)


def test_breaks_at_or_after_the_target_tell_nothing() -> None:
    """8 h is the first target: its own break changes the reading at 24 h alone."""
    pours = pours_of(invented_batches(5, 6))
    errors = judge_early_plans(pours, np.array([[0, 0, 0], [0, 0, 3]])).error[0]
    assert errors[1, ::2] == pytest.approx(errors[0, ::2], abs=1e-12)
    assert np.all(np.abs(errors[1, 1::2] - errors[0, 1::2]) > 1e-5)


def test_level_is_the_expected_loss_of_fresh_specimens() -> None:
    """3,000 redraws (seed 12) of the early specimens and the truth of one pour about fixed means.

    Population fixed, so the linear expectation is exact but for the curvature of the exponential; the margin
    holds four standard errors and that: a false alarm in less than 1 of 16,000 runs.
    """
    batches = invented_batches(6, 8)
    plan = np.array([1, 0, 0])
    rng = np.random.default_rng(12)
    true_early = batches.mean_mpa[0, 0]
    true_target = batches.mean_mpa[0, 4]
    levels, losses = [], []
    base = pours_of(batches)
    only = {"check_batch": np.array([0]), "check_maturity_h": base.check_maturity_h[[1]]}
    prior = estimate_growth_prior(batches.without([0]))
    noise = CV[4] ** 2 / 3.0
    for _ in range(3000):
        early = base.early_mean_mpa.copy()
        early[0, 0] = true_early * (1.0 + CV[0] / np.sqrt(3.0) * rng.standard_normal())
        count = base.early_n_specimens.copy()
        count[0, 0] = 3.0
        truth = true_target * (1.0 + np.sqrt(noise) * rng.standard_normal())
        fresh = CellMeans(
            maturity_h=base.early_maturity_h[0, :1],
            mean_mpa=np.array([true_early * (1.0 + CV[0] * rng.standard_normal())]),
            n_specimens=np.array([1.0]),
        )
        read = read_pour(prior, only["check_maturity_h"], early=fresh).strength_mpa[0]
        losses.append((read / true_target - 1.0) ** 2)
        levels.append(_level_with(prior, base, early, count, truth, noise, plan))
    spread = np.sqrt((np.var(levels) + np.var(losses)) / 3000)
    assert np.mean(levels) == pytest.approx(np.mean(losses), abs=4 * spread + 1e-4)


def _level_with(prior, base, early, count, truth, noise, plan) -> float:  # type: ignore[no-untyped-def]
    """The judged level of one check, the population not estimated again."""
    from planner.mixed_model.early_plans import HeldOutErrors, _EarlyRead
    from planner.mixed_model.reading import centre

    pours = replace(
        base, early_mean_mpa=early, early_n_specimens=count, check_batch=np.array([0]),
        check_maturity_h=base.check_maturity_h[[1]], check_truth_mpa=np.array([truth]), check_noise=np.array([noise]),
        is_before=base.is_before[[1]],
    )  # fmt: skip
    found = _EarlyRead.of(pours, plan[None], np.array([0]), prior, centre(prior))
    error, stated = found.error(pours)[None], found.stated[None]
    by_plan, by_cell = (one[None] for one in found.variances(pours, None))
    errors = HeldOutErrors(
        error=error, plan_variance=by_plan, cell_variance=by_cell, stated_variance=stated,
        kept_out_variance=np.zeros_like(error), check_noise=pours.check_noise,
    )  # fmt: skip
    return float(errors.level()[0, 0])


def test_level_means_over_trial_batches() -> None:
    pours = pours_of(invented_batches(4, 6))
    errors = judge_early_plans(pours, np.array([[1, 0, 0]]), trials=CAST)
    raw = (errors.error**2 + errors.plan_variance - errors.cell_variance - errors.kept_out_variance)[:, 0, 2]
    batch = pours.check_batch[2]
    by_hand = np.mean(np.delete(raw, batch)) - errors.check_noise[2]
    assert errors.level()[0, 2] == pytest.approx(by_hand, rel=1e-12)
    assert errors.variance()[0, 2] == pytest.approx(np.mean(np.delete(errors.plan_variance[:, 0, 2], batch)))


def test_a_pour_without_the_cell_does_not_judge_the_plan() -> None:
    batches = invented_batches(5, 6)
    pours = pours_of(batches)
    count = pours.early_n_specimens.copy()
    count[1, 0] = 0.0
    errors = judge_early_plans(replace(pours, early_n_specimens=count), np.array([[1, 0, 0], [0, 1, 0]]))
    assert np.all(np.isnan(errors.error[0, 0, pours.check_batch == 1]))
    assert np.all(np.isnan(errors.level()[0, pours.check_batch == 1]))
    assert np.all(np.isfinite(errors.error[0, 1]))


def test_early_breaks_help_where_batches_differ() -> None:
    """Over 40 records of six batches (seeds 0 to 39) the level with two breaks at 4 h is below that with none."""
    totals = np.zeros(2)
    for seed in range(40):
        errors = judge_early_plans(pours_of(invented_batches(6, seed)), np.array([[0, 0, 0], [2, 0, 0]]))
        totals += errors.level().mean(axis=1)
    assert totals[1] < 0.6 * totals[0]


def test_every_allowed_plan_once() -> None:
    plans = enumerate_early_plans(3, (1, 2), 3)
    by_hand = [
        counts for counts in product(range(3), repeat=3) if sum(counts) <= 3
    ]  # 0, 1 or 2 at each of three ages  # fmt: skip
    assert sorted(map(tuple, plans.tolist())) == sorted(by_hand)
    assert plans[0].tolist() == [0, 0, 0]


def test_counts_below_the_fewest_are_not_offered() -> None:
    assert enumerate_early_plans(2, (2, 3), 4).tolist() == [[0, 0], [2, 0], [3, 0], [0, 2], [0, 3], [2, 2]]


@pytest.mark.parametrize("counts", [(0, 2), (3, 2)])
def test_refuses_counts_that_are_none(counts: tuple[int, int]) -> None:
    with pytest.raises(ValueError, match="from 1 upwards"):
        enumerate_early_plans(2, counts, 4)


@pytest.mark.parametrize(("n_batches", "schedule", "fewest"), [(2, None, 3), (3, SCHEDULE, 4)])
def test_too_few_batches_judge_nothing(n_batches: int, schedule: IntArray | None, fewest: int) -> None:
    pours = pours_of(invented_batches(n_batches, 6))
    with pytest.raises(ValueError, match=f"{fewest} batches or more, given {n_batches}"):
        judge_early_plans(pours, np.array([[1, 0, 0]]), trials=None if schedule is None else CAST)
