"""Curves with a prior in the search: against slow twins and a library, and what they must not have learnt from."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, DotProduct

from planner.choices.choice_set import choice_set
from planner.evidence import Cells
from planner.mixed_model import GrowthPrior, PriorBatches, ShapePrior, estimate_growth_prior, estimate_shape_prior
from planner.population import basis_of
from planner.read import load_plan
from planner.resampling import Joint, Scoring, error_matrix
from planner.resampling.errors.later_pours.pour_readings import read
from planner.resampling.errors.sweeps import resample_learnt, sweep_sets, sweep_view
from planner.resampling.priors.learnt import Teaching, learning_batches, population_without
from planner.resampling.priors.loops import NOMINAL, NOT_FITTED
from planner.resampling.priors.one_fit import fit_learnt, learnt_numbers
from planner.resampling.search.learnt_rows import LearntRows
from planner.resampling.search.model_penalty import with_likeness
from planner.steps.allowed_choices import offered_choices
from planner.terms.arrays import AnyArray, FloatArray
from planner.terms.plan.settings import PRIOR_CURVE_NAMES, CurveName
from planner.verdict.selection.rule import Rule
from planner.verdict.validation.restricted import fold_table
from planner.verdict.wording.learnt_words import learnt_words
from tests.resampling.searches import starter_plan

RUNWAY = Path(__file__).parents[2] / "scenarios" / "runway-panels" / "plan.toml"
SETTING = 1


@lru_cache(maxsize=1)
def runway() -> Cells:
    return basis_of(load_plan(RUNWAY)).cells


def joint_of(cells: Cells, curve: CurveName, *, without: int | None = None) -> Joint:
    return Joint(curve, "absolute", SETTING, cells.settings[SETTING], without)


def learning(cells: Cells, left_out: set[int]) -> PriorBatches:
    """Whole cells of the other units, gathered by hand: every batch of the runway has one view."""
    rows = [v for v in range(len(cells.views.batch)) if int(cells.views.unit[v]) not in left_out]
    count = cells.views.whole.n_specimens[rows]
    return PriorBatches(
        mean_mpa=np.nan_to_num(cells.views.whole.mean_mpa[rows]),
        n_specimens=count,
        maturity_h=np.nan_to_num(cells.views.whole.maturity_h[SETTING][rows]),
        cv=cells.cv,
    )


def sets_of(cells: Cells) -> AnyArray:
    """Some sets of one to ten ages."""
    n = len(cells.ages_h)
    every = [ages for size in (1, 2, 3, n) for ages in combinations(range(n), size)]
    chosen = choice_set(cells.ages_h, [(list(ages), [1] * len(ages)) for ages in every[::7]])
    return chosen.set_members, chosen.set_n_ages


def read_by_population(
    prior: GrowthPrior, cells: Cells, view: int, ages: AnyArray, log_mean: FloatArray, at: FloatArray
) -> FloatArray:
    """Log strength by the dense normal law of all means and all readings together."""
    maturity = cells.views.maturity_h[SETTING, view, ages]
    expected, rows = prior.at(maturity)
    at_expected, at_rows = prior.at(at)
    own = prior.spread * (1.0 + 1.0 / prior.n_batches)
    noise = cells.cv[ages] ** 2 / NOMINAL + prior.departure_variance(maturity)
    covariance = rows @ own @ rows.T + np.diag(noise)
    return at_expected + at_rows @ own @ rows.T @ np.linalg.solve(covariance, log_mean - expected)


def read_by_shape(
    prior: ShapePrior, cells: Cells, view: int, ages: AnyArray, log_mean: FloatArray, at: FloatArray
) -> FloatArray:
    """Log strength by a general minimiser over (ln Su, ln tau, ln a)."""
    log_maturity = np.log(cells.views.maturity_h[SETTING, view, ages])
    penalty = np.linalg.inv(prior.covariance * (1.0 + 1.0 / prior.n_mixes))

    def loss(free: FloatArray) -> float:
        growth = -np.exp(np.exp(free[2]) * (free[1] - log_maturity))
        residual = log_mean - free[0] - growth
        departure = free[1:] - prior.mean
        return float(NOMINAL * residual @ residual / prior.scatter**2 + departure @ penalty @ departure)

    found = minimize(
        loss, [4.0, *prior.mean], method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 6000, "maxfev": 9000},
    ).x  # fmt: skip
    return found[0] - np.exp(np.exp(found[2]) * (found[1] - np.log(at)))


@pytest.mark.parametrize("view", [0, 5])
def test_population_equals_the_dense_law_for_every_set(view: int) -> None:
    cells = runway()
    members, n_ages = sets_of(cells)
    checks = np.flatnonzero(cells.checks.view == view)
    error, contribution, status, _ = sweep_view(
        cells, members, n_ages, joint_of(cells, "population prior"), view, checks
    )
    prior = estimate_growth_prior(learning(cells, {view}))
    at, truth = cells.checks.maturity_h[SETTING, checks], cells.checks.truth_mpa[checks]
    for s, n in enumerate(n_ages):
        ages = members[s, :n]
        log_mean = np.log(cells.views.mean_mpa[view, ages])
        if np.isnan(log_mean).any():
            assert status[s] == NOT_FITTED
            assert np.isnan(error[s]).all()
            continue
        found = np.exp(read_by_population(prior, cells, view, ages, log_mean, at)) / truth
        assert error[s] == pytest.approx(found - 1.0, abs=1e-7)  # the maximiser of the variances stops there
        step = 1e-5
        for i in range(n):
            moved = np.exp(read_by_population(prior, cells, view, ages, log_mean + step * np.eye(n)[i], at)) / truth
            slope = (moved - found) / step * cells.cv[ages[i]]
            assert contribution[s, :, i] == pytest.approx(slope**2, rel=1e-3, abs=1e-12)


def test_population_equals_a_gaussian_process_of_a_library() -> None:
    """Level and rate are a linear kernel in the slope, as scikit-learn fits it with all its numbers given."""
    cells, view, ages = runway(), 2, np.array([0, 1, 4])
    prior = estimate_growth_prior(learning(cells, {view}))
    maturity = cells.views.maturity_h[SETTING, view, ages]
    expected, rows = prior.at(maturity)
    checks = np.flatnonzero(cells.checks.view == view)
    at_expected, at_rows = prior.at(cells.checks.maturity_h[SETTING, checks])
    kernel = ConstantKernel(prior.rate_sd**2 * (1.0 + 1.0 / prior.n_batches)) * DotProduct(
        prior.scale_sd / prior.rate_sd
    )
    noise = cells.cv[ages] ** 2 / NOMINAL + prior.departure_variance(maturity)
    process = GaussianProcessRegressor(kernel, alpha=noise, optimizer=None)
    process.fit(rows[:, 1:], np.log(cells.views.mean_mpa[view, ages]) - expected)
    read_mpa = np.exp(at_expected + process.predict(at_rows[:, 1:]))
    error, *_ = sweep_view(
        cells, ages[None, :], np.array([3]), joint_of(cells, "population prior"), view, checks
    )  # fmt: skip
    assert error[0] == pytest.approx(read_mpa / cells.checks.truth_mpa[checks] - 1.0, abs=1e-7)


@pytest.mark.parametrize("ages", [[2], [0, 5], [0, 3, 6, 9]])
def test_shape_equals_a_general_minimiser(ages: list[int]) -> None:
    cells, view = runway(), 4
    checks = np.flatnonzero(cells.checks.view == view)
    at, truth = cells.checks.maturity_h[SETTING, checks], cells.checks.truth_mpa[checks]
    batches = learning(cells, {view})
    prior = estimate_shape_prior(batches.maturity_h, batches.mean_mpa, batches.n_specimens)
    error, contribution, *_ = sweep_view(
        cells, np.array([ages]), np.array([len(ages)]), joint_of(cells, "shape prior"), view, checks
    )
    log_mean = np.log(cells.views.mean_mpa[view, ages])
    found = np.exp(read_by_shape(prior, cells, view, np.array(ages), log_mean, at)) / truth
    assert error[0] == pytest.approx(found - 1.0, abs=2e-6)
    for i, age in enumerate(ages):  # Gauss-Newton's slopes are those of refits but for the curvature of the misfit
        step = 1e-3 * np.eye(len(ages))[i]
        ahead = np.exp(read_by_shape(prior, cells, view, np.array(ages), log_mean + step, at)) / truth
        slope = (ahead - found) / 1e-3 * cells.cv[age]
        assert np.sqrt(contribution[0, :, i]) == pytest.approx(np.abs(slope), rel=0.15, abs=5e-4)


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_a_fit_with_its_parameters_reads_as_the_search_does(curve: CurveName) -> None:
    cells, view, ages = runway(), 3, np.array([0, 4])
    checks = np.flatnonzero(cells.checks.view == view)
    numbers = learnt_numbers(cells, curve, SETTING, frozenset([view]))
    assert numbers is not None
    fit, parameter_se = fit_learnt(
        numbers, cells.views.maturity_h[SETTING, view, ages], cells.views.mean_mpa[view, ages], cells.cv[ages]
    )
    error, *_ = sweep_view(cells, ages[None, :], np.array([2]), joint_of(cells, curve), view, checks)
    read_mpa = fit.predict(cells.checks.maturity_h[SETTING, checks])
    assert read_mpa / cells.checks.truth_mpa[checks] - 1.0 == pytest.approx(error[0], abs=1e-9)
    assert np.all(parameter_se[:2] > 0)


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_draws_of_one_schedule_are_fits_to_the_drawn_means(curve: CurveName) -> None:
    cells, ages = runway(), np.array([1, 4, 6])
    noise = 0.05 * np.random.default_rng(3).standard_normal((len(cells.views.batch), 2, 3))
    drawn = np.empty((2, len(cells.checks.view)))
    resample_learnt(cells, ages[None, :], joint_of(cells, curve), noise, drawn)
    for view in range(len(cells.views.batch)):
        checks = np.flatnonzero(cells.checks.view == view)
        numbers = learnt_numbers(cells, curve, SETTING, frozenset([view]))
        assert numbers is not None
        for d in range(2):
            means = cells.views.mean_mpa[view, ages] * (1.0 + noise[view, d])
            fit, _ = fit_learnt(numbers, cells.views.maturity_h[SETTING, view, ages], means, cells.cv[ages])
            found = fit.predict(cells.checks.maturity_h[SETTING, checks]) / cells.checks.truth_mpa[checks] - 1.0
            assert drawn[d, checks] == pytest.approx(found, abs=1e-9)


def changed(cells: Cells, unit: int, *, kept: list[int] | None = None) -> Cells:
    """Every standard-cured mean of a unit half as strong again, but for some ages, in fits and in what is learnt."""
    factor = np.ones_like(cells.views.mean_mpa)
    factor[cells.views.unit == unit] = 1.5
    factor[:, kept or []] = 1.0
    whole = cells.views.whole
    views = replace(
        cells.views,
        mean_mpa=cells.views.mean_mpa * factor,
        whole=replace(whole, mean_mpa=whole.mean_mpa * factor),
    )
    return replace(cells, views=views)


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_nothing_is_learnt_from_the_unit_judged_nor_from_one_left_out(curve: CurveName) -> None:
    cells, members, n_ages = runway(), np.array([[0, 4]]), np.array([2])
    own = cells.check_unit == 2
    plain = sweep_sets(cells, members, n_ages, joint_of(cells, curve)).error
    moved = sweep_sets(changed(cells, 2, kept=[0, 4]), members, n_ages, joint_of(cells, curve)).error
    assert np.array_equal(plain[:, own], moved[:, own])
    assert np.all(plain[:, ~own] != moved[:, ~own])
    plain = sweep_sets(cells, members, n_ages, joint_of(cells, curve, without=2)).error
    moved = sweep_sets(changed(cells, 2), members, n_ages, joint_of(cells, curve, without=2)).error
    assert np.array_equal(plain[:, ~own], moved[:, ~own])


@pytest.mark.parametrize("curve", PRIOR_CURVE_NAMES)
def test_a_later_pour_is_read_by_what_neither_batch_taught(curve: CurveName) -> None:
    cells, members, n_ages = runway(), np.array([[0, 4]]), np.array([2])
    on = np.flatnonzero(cells.check_unit == 5)
    plain, *_ = sweep_view(cells, members, n_ages, joint_of(cells, curve), 1, on)
    of_pour, *_ = sweep_view(changed(cells, 5), members, n_ages, joint_of(cells, curve), 1, on)
    of_trial, *_ = sweep_view(changed(cells, 1, kept=[0, 4]), members, n_ages, joint_of(cells, curve), 1, on)
    other, *_ = sweep_view(changed(cells, 7), members, n_ages, joint_of(cells, curve), 1, on)
    assert np.array_equal(plain, of_pour)
    assert np.array_equal(plain, of_trial)
    assert np.all(plain != other)
    about = (members, n_ages, np.array([0]), [joint_of(cells, curve)], "later pour")
    whole, moved = (read(some, *about, without=(7,)) for some in (cells, changed(cells, 7)))
    assert np.array_equal(whole.mean, moved.mean, equal_nan=True)


def test_the_selection_without_a_unit_has_learnt_nothing_from_it() -> None:
    plan = starter_plan()
    cells, _offered, choices = offered_choices(plan)
    joints = tuple(Joint(curve, "absolute", 0, cells.settings[0]) for curve in ("logarithmic", *PRIOR_CURVE_NAMES))
    unit = 1
    found = []
    for some in (cells, changed(cells, unit)):
        scoring = with_likeness(some, joints, Scoring.of(some, plan.settings.target))
        matrix = error_matrix(some, choices.alone(0), joints, scoring, is_all_kept=True)
        rule = Rule(matrix, np.zeros(len(matrix.choices), dtype=np.int64), LearntRows(some, scoring, joints))
        units = np.arange(cells.n_units) != unit
        found.append((matrix, rule.training(units)))
    (matrix, plain), (other, moved) = found
    others = [u for u in range(cells.n_units) if u != unit]
    assert set(matrix.row_joint) == {0, 1, 2}
    for name in ("loss", "variance", "level", "is_over"):
        assert np.array_equal(getattr(plain, name), getattr(moved, name)), name
    learnt = matrix.row_joint > 0
    assert np.all(matrix.loss[learnt][:, others] != other.loss[learnt][:, others])  # so the test can fail
    alone = joint_of(cells, "population prior", without=unit)
    alone = replace(alone, setting=0, maturity=cells.settings[0])
    row = int(np.flatnonzero(plain.rows == np.flatnonzero(matrix.row_joint == 1)[0])[0])
    likeness = with_likeness(cells, (alone,), Scoring.of(cells, plan.settings.target)).penalty
    assert likeness is not None
    by_hand = error_matrix(
        cells, choices.alone(0), (alone,), replace(Scoring.of(cells, plan.settings.target), penalty=likeness),
        is_all_kept=True,
    )  # fmt: skip
    assert plain.loss[row] == pytest.approx(by_hand.loss[0][others], rel=1e-12)
    assert plain.variance[row] == pytest.approx(by_hand.variance[0][others], rel=1e-5)  # single precision
    assert plain.level[row] == pytest.approx(by_hand.level[0][others], rel=1e-4, abs=1e-7)


def test_too_few_others_judge_nothing() -> None:
    cells = runway()
    few = cells.of_views(np.array([0, 1]))
    members, n_ages = np.array([[0, 4]]), np.array([2])
    for curve in PRIOR_CURVE_NAMES:
        swept = sweep_sets(few, members, n_ages, joint_of(few, curve))
        assert np.isnan(swept.error).all()
    three = cells.of_views(np.array([0, 1, 2]))
    assert np.isfinite(sweep_sets(three, members, n_ages, joint_of(three, "population prior")).error).all()


def test_folds_of_every_schedule_have_learnt_nothing_from_their_unit() -> None:
    plan = starter_plan()
    cells, _offered, choices = offered_choices(plan)
    few = choices.part(np.arange(len(choices)) % 97 == 0)
    joints = tuple(Joint(curve, "absolute", 0, cells.settings[0]) for curve in ("logarithmic", *PRIOR_CURVE_NAMES))
    unit = 1
    plain, moved = (
        fold_table(some, few, joints, with_likeness(some, joints, Scoring.of(some, plan.settings.target)))
        for some in (cells, changed(cells, unit))
    )
    assert np.array_equal(plain.loss[unit], moved.loss[unit])
    assert np.array_equal(plain.joint[unit], moved.joint[unit])
    assert (plain.joint[unit] > 0).any()
    others = [u for u in range(cells.n_units + 1) if u != unit]
    assert np.all(plain.loss[others] != moved.loss[others])  # so it can fail
    which = int(np.flatnonzero(plain.joint[unit] > 0)[0])
    joint = joints[int(plain.joint[unit, which])]
    scoring = with_likeness(cells, (replace(joint, without=unit),), Scoring.of(cells, plan.settings.target))
    by_hand = error_matrix(cells, few.alone(which), (replace(joint, without=unit),), scoring, is_all_kept=True)
    kept = [u for u in range(cells.n_units) if u != unit]
    assert plain.loss[unit, which] == pytest.approx(by_hand.loss[0][kept].mean(), rel=1e-6)


def test_of_many_units_an_even_choice_is_learnt_from() -> None:
    """Ninety copies of the runway's batches: 40 units teach, and one that does not teach leaves all 40."""
    cells = runway()
    many = replace(
        cells,
        unit_names=tuple(f"U{u}" for u in range(90)),
        views=replace(
            cells.views.take(np.tile(np.arange(9), 10)), unit=np.arange(90), batch=tuple(f"B{b}" for b in range(90))
        ),
    )
    everyone = learning_batches(Teaching.of(many), SETTING, frozenset())
    without_silent = learning_batches(Teaching.of(many), SETTING, frozenset([1]))
    without_teacher = learning_batches(Teaching.of(many), SETTING, frozenset([0]))
    assert everyone is not None
    assert without_silent is not None
    assert without_teacher is not None
    assert [one.n_batches for one in (everyone, without_silent, without_teacher)] == [40, 40, 39]
    words = learnt_words(("shape prior",), is_by_mix=False, n_units=90, most=40)
    assert "rest on an even choice of 40 of the 89 other batches" in words


def test_cells_that_differ_in_their_checks_alone_learn_once() -> None:
    cells = runway()
    fewer = replace(cells, checks=cells.checks.take(np.arange(len(cells.checks.view))[::2]))
    assert population_without(fewer, SETTING, frozenset([1])) is population_without(cells, SETTING, frozenset([1]))
    wider = replace(cells, cv=cells.cv * 1.5)  # another scatter teaches another prior
    told, other = (population_without(item, SETTING, frozenset([1])) for item in (cells, wider))
    assert told is not None
    assert other is not None
    assert not np.array_equal(told.knots, other.knots)
