"""Figures of early plans from errors made by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from planner.mixed_model import HeldOutErrors, HeldOutPours, TrialBatches
from planner.terms.plan.early_breaks import Pours as PlannedPours
from planner.terms.plan.settings import Costs, Settings, Target
from planner.verdict.answers.early_breaks.early_break_prices import EarlyPrices, worth
from planner.verdict.validation.early_figures import Picked, best_plan, figures_of
from planner.verdict.validation.pours_of_cells import Pours, pours_of_cells
from planner.verdict.validation.rescaled_trials import _shifted, remainders_of, rescaled_errors
from tests.mixed_model.invented_batches import AGES_H, invented_batches
from tests.report.accounts.test_early_breaks import OTHER, ROW
from tests.verdict.answers.early_breaks_by_hand import COSTS, small_plan

TARGET = Target(ages_h=(6.0, 24.0), tolerance=0.10)


def hand_pours() -> Pours:
    """Three pours with one check at each of two targets, early breaks at 4 h and 6 h."""
    batches = invented_batches(3, 1)
    batch, column = (index.ravel() for index in np.meshgrid(range(3), (1, 4), indexing="ij"))
    return Pours(
        held_out=HeldOutPours(
            batches=batches,
            early_mean_mpa=batches.mean_mpa[:, :2],
            early_n_specimens=batches.n_specimens[:, :2],
            early_maturity_h=batches.maturity_h[:, :2],
            check_batch=batch,
            check_maturity_h=batches.maturity_h[batch, column],
            check_truth_mpa=batches.mean_mpa[batch, column],
            check_noise=np.full(6, 0.0012),
            is_before=AGES_H[None, :2] < AGES_H[column][:, None],
        ),
        columns=np.arange(7),
        early_cv=np.array([0.10, 0.05]),
        check_target=np.tile([0, 1], 3),
        check_weight=np.full(6, 0.5),
    )


def hand_errors(error: np.ndarray, *, plan_variance: float = 0.0, stated: float = 0.01) -> HeldOutErrors:
    shape = error.shape
    return HeldOutErrors(
        error=error,
        plan_variance=np.full(shape, plan_variance),
        cell_variance=np.zeros(shape),
        stated_variance=np.full(shape, stated),
        kept_out_variance=np.zeros(shape),
        check_noise=np.full(shape[2], 0.0012),
    )


def test_shares_are_of_errors_without_the_scatter_of_the_truth() -> None:
    """Every measured error is 10.5 %: beyond 10 %. True level .105^2 - .0012 is 9.9 %: within."""
    errors = hand_errors(np.full((1, 1, 6), 0.105))
    picked = best_plan(errors, hand_pours(), np.array([0]))
    assert picked is not None
    found = figures_of(picked, errors, hand_pours(), TARGET, n_freedom=5.0)
    assert found.rms == pytest.approx(np.sqrt(0.105**2 - 0.0012))
    assert found.within_tolerance == 1.0
    assert found.over_predicted_beyond_tolerance == 0.0
    assert found.rms_by_target == pytest.approx((found.rms, found.rms))


def test_only_the_scatter_of_the_truth_is_taken_out_of_the_errors() -> None:
    """Every measured error is 11 %. True level .11^2 - .0012 is 10.4 %: still beyond, all of them too high."""
    errors = hand_errors(np.full((1, 1, 6), 0.11))
    picked = best_plan(errors, hand_pours(), np.array([0]))
    assert picked is not None
    found = figures_of(picked, errors, hand_pours(), TARGET, n_freedom=5.0)
    assert found.within_tolerance == 0.0
    assert found.over_predicted_beyond_tolerance == 1.0


def test_the_level_is_never_below_what_the_specimens_make() -> None:
    errors = hand_errors(np.full((1, 1, 6), 0.01), plan_variance=0.0004)
    picked = best_plan(errors, hand_pours(), np.array([0]))
    assert picked is not None
    assert picked.is_floored
    assert figures_of(picked, errors, hand_pours(), TARGET, n_freedom=5.0).rms == pytest.approx(0.02)


def test_no_pour_judges_what_it_chose() -> None:
    """Plan 0 is perfect in pour 0 alone and poor elsewhere; the others choose plan 1 for it, itself would choose 0."""
    error = np.array([[[0.0, 0.0, 0.3, 0.3, 0.3, 0.3], [0.2] * 6]])
    picked = best_plan(hand_errors(error), hand_pours(), np.array([0, 1]))
    assert picked is not None
    assert picked.by_pour.tolist() == [1, 1, 1]
    other = np.array([[[0.0, 0.0, 0.25, 0.25, 0.25, 0.25], [0.2] * 4 + [0.24, 0.24]]])
    chosen = best_plan(hand_errors(other), hand_pours(), np.array([0, 1]))
    assert chosen is not None
    assert chosen.plan == 0
    assert chosen.by_pour.tolist() == [1, 0, 0]
    assert chosen.level[0] == pytest.approx(0.04 - 0.0012)


def test_a_plan_that_a_pour_lacks_is_not_judged_there() -> None:
    error = np.full((1, 1, 6), 0.1)
    error[0, 0, :2] = np.nan
    picked = best_plan(hand_errors(error), hand_pours(), np.array([0]))
    assert isinstance(picked, Picked)
    assert picked.by_pour.tolist() == [-1, 0, 0]
    assert picked.mean_square == pytest.approx(0.01 - 0.0012)
    assert best_plan(hand_errors(np.full((1, 1, 6), np.nan)), hand_pours(), np.array([0])) is None


def test_early_breaks_weigh_by_their_precision() -> None:
    """Scatter of 10 % at 4 h and 5 % at 6 h: weights 1 and 4 at the 24 h check, 4 h alone at the 6 h check."""
    from planner.fitting.single import fit_curve

    pours = hand_pours()
    curve = fit_curve("logarithmic", AGES_H, 10.0 + 8.0 * np.log(AGES_H), weighting="absolute")
    held, plan = pours.held_out, np.array([[1, 1]])
    log_ratio = np.log(held.early_mean_mpa[0] / curve.predict(held.early_maturity_h[0]))
    error, variance, in_cells = _shifted(pours, plan, [curve], np.array([0, 1]))
    assert error.shape == variance.shape == in_cells.shape == (1, 2)
    for check, weight in ((0, np.array([1.0, 0.0])), (1, np.array([0.2, 0.8]))):
        read = curve.predict(held.check_maturity_h[[check]])[0] * np.exp(weight @ log_ratio)
        assert error[0, check] == pytest.approx(read / held.check_truth_mpa[check] - 1.0, rel=1e-12)
        assert variance[0, check] == pytest.approx(weight**2 @ pours.early_cv**2, rel=1e-12)
        whole = weight**2 @ (pours.early_cv**2 / held.early_n_specimens[0])
        assert in_cells[0, check] == pytest.approx(whole, rel=1e-12)


def test_the_shifted_curve_of_a_pour_that_lacks_a_cell_judges_no_plan_that_breaks_it() -> None:
    from planner.fitting.single import fit_curve

    pours = hand_pours()
    count = pours.held_out.early_n_specimens.copy()
    count[2, 1] = 0.0
    holed = replace(pours, held_out=replace(pours.held_out, early_n_specimens=count))
    curve = fit_curve("logarithmic", AGES_H, 10.0 + 8.0 * np.log(AGES_H), weighting="absolute")
    plans = np.array([[1, 0], [1, 1]])
    error, _, _ = _shifted(holed, plans, [curve], np.array([4, 5]))  # of the third pour: 6 h, then 24 h
    assert np.isnan(error).tolist() == [[False, False], [False, True]]
    whole, _, _ = _shifted(pours, plans, [curve], np.array([4, 5]))
    assert np.array_equal(error[0], whole[0])


def test_shifted_errors_stand_at_their_own_trial_batches_and_checks() -> None:
    """Nothing broken early: the trial batch's own curve at every check of the others."""
    from planner.evidence import tabulate
    from planner.fitting.single import fit_curve

    plan = small_plan(n_batches=4, is_on_site=True)
    cells = tabulate(plan.records, plan.settings)
    pours = pours_of_cells(cells, (4.0, 6.0), (0.5, 0.5), setting=0)
    held, n_ages = pours.held_out, len(pours.columns)
    choice: Any = SimpleNamespace(curve="logarithmic", weighting="absolute", maturity=cells.settings[0])
    cast = TrialBatches(specimens=np.full(n_ages, 2), number=1, most=1)
    errors = rescaled_errors(pours, np.array([[0, 0]]), choice, cast, cells=cells)
    assert errors is not None
    for trial, check in product(range(4), range(len(held.check_batch))):
        curve = fit_curve(
            "logarithmic", held.batches.maturity_h[trial], held.batches.mean_mpa[trial], weighting="absolute"
        )
        expected = curve.predict(held.check_maturity_h[[check]])[0] / held.check_truth_mpa[check] - 1.0
        is_own = held.check_batch[check] == trial
        assert errors.error[trial, 0, check] == pytest.approx(np.nan if is_own else expected, rel=1e-9, nan_ok=True)


def test_a_break_at_a_target_serves_the_later_target_alone() -> None:
    from planner.evidence import tabulate

    plan = small_plan(n_batches=3, is_on_site=True)
    cells = tabulate(plan.records, plan.settings)
    pours = pours_of_cells(cells, (4.0, 6.0), (0.5, 0.5), setting=0)
    is_first = pours.check_target == 0
    assert np.all(pours.held_out.is_before[is_first] == [True, False])
    assert np.all(pours.held_out.is_before[~is_first])


def settings_with(tolerance: float, immaterial: float) -> Settings:
    settings = small_plan(n_batches=3, is_on_site=True).settings
    return replace(settings, target=replace(settings.target, tolerance=tolerance, immaterial=immaterial))


def test_worth_takes_the_cheapest_of_those_that_tie() -> None:
    rows = (ROW, replace(OTHER, rms=0.050), replace(OTHER, rms=0.048), OTHER)
    found = [(row.reads_within, row.rms, (float(place),)) for place, row in enumerate(rows)]
    assert worth(found, settings_with(0.02, 0.005).target) == (1, False)
    assert worth(found, settings_with(0.02, 0.003).target) == (2, False)
    assert worth(found, settings_with(0.02, 0.001).target) == (3, False)
    assert worth(found, settings_with(0.06, 0.005).target) == (1, False)  # 9.9 % is not within 6 %
    assert worth(found, settings_with(0.10, 0.001).target) == (1, True)
    assert worth(found, settings_with(0.25, 0.001).target) == (0, True)
    dear_first = [(within, rms, (-price[0],)) for within, rms, price in found]
    assert worth(dear_first, settings_with(0.10, 0.001).target) == (3, True)
    assert worth(dear_first, settings_with(0.02, 0.005).target) == (3, False)


def prices(number: int | None, costs: Costs | None) -> EarlyPrices:
    return EarlyPrices(
        costs=costs,
        pours=PlannedPours(early_ages_h=(4.0,), number=number),
        n_trial_specimens=9,
        calibration=lambda number: 1000.0 * number + 200.0,
    )


def test_programmes_are_ranked_by_money_of_calibration_and_pours() -> None:
    """55 EUR a break, 40 pours: two trial batches with two breaks are 2,200 + 4,400."""
    found = prices(40, COSTS)
    assert found.key(2, 2) == (6600.0, 2)
    assert found.key(0, 3) == (6600.0, 3)
    assert (found.of_calibration(0), found.of_calibration(1)) == (0.0, 1200.0)
    assert (found.of_pour(2), found.of_pours(2)) == (110.0, 4400.0)


def test_without_prices_specimens_rank_and_without_a_number_those_of_a_pour_come_first() -> None:
    assert prices(40, None).key(2, 2) == (98, 2)
    assert prices(None, None).key(2, 1) == (1, 18)
    assert prices(None, COSTS).key(2, 1) == (1, 18)
    assert (prices(None, COSTS).of_pours(1), prices(None, None).of_calibration(1)) == (None, None)


def test_several_trial_batches_are_read_by_the_mean_of_their_curves() -> None:
    from planner.fitting.single import fit_curve

    held, plan = hand_pours().held_out, np.array([[1, 0]])
    curves = [fit_curve("logarithmic", AGES_H, top + 8.0 * np.log(AGES_H), weighting="absolute") for top in (8.0, 12.0)]
    error, _, _ = _shifted(hand_pours(), plan, curves, np.array([1]))

    def mean(at_h: float) -> float:
        return 10.0 + 8.0 * float(np.log(at_h))

    ratio = held.early_mean_mpa[0, 0] / mean(held.early_maturity_h[0, 0])
    read = mean(held.check_maturity_h[1]) * ratio
    assert error[0, 0] == pytest.approx(read / held.check_truth_mpa[1] - 1.0, rel=1e-6)


def test_what_the_shift_leaves_is_told_for_every_set_of_ages_before_every_target() -> None:
    """Errors of 10 % at the first target and 20 % at the second; specimens add .0004, truths .0012."""
    pours = hand_pours()
    errors = hand_errors(np.tile([0.1, 0.2], (3, 2, 3)), plan_variance=0.0004)
    left = remainders_of(pours, np.array([[1, 0], [1, 1]]), errors, (6.0, 24.0), (4.0, 6.0))
    found = {(item.ages_h, item.target_h): item.variance for item in left}
    assert found.keys() == {((4.0,), 6.0), ((4.0,), 24.0), ((4.0, 6.0), 24.0)}
    assert found[(4.0,), 6.0] == pytest.approx(0.01 - 0.0012)
    assert found[(4.0,), 24.0] == pytest.approx(0.04 - 0.0012)
    small = hand_errors(np.full((1, 1, 6), 0.01))
    assert [item.variance for item in remainders_of(pours, np.array([[1, 0]]), small, (6.0, 24.0), (4.0, 6.0))] == [
        0,
        0,
    ]


def test_a_pour_is_inside_when_every_target_is() -> None:
    """Errors of two trial batches on three pours, in order of pour and target.

    Of either trial batch one pour is inside at both targets: 2 of 6. Of readings it is 7 of 12. The first pour is
    outside at another target with each trial batch: what is counted is one curve on one pour.
    """
    error = np.array([[[0.02, 0.30, 0.01, -0.02, 0.25, 0.03]], [[0.28, 0.02, -0.03, 0.02, 0.30, -0.35]]])
    pours = hand_pours()
    picked = best_plan(hand_errors(error), pours, np.array([0]))
    assert picked is not None
    found = figures_of(picked, hand_errors(error), pours, TARGET, n_freedom=5.0)
    assert found.within_tolerance == pytest.approx(2 / 6)
    # Two checks at one target: their weighted share inside.
    one = replace(pours, check_target=np.zeros(6, dtype=np.int64))
    alone = figures_of(picked, hand_errors(error), one, Target(ages_h=(6.0,), tolerance=0.10), n_freedom=5.0)
    assert alone.within_tolerance == pytest.approx(7 / 12)


def test_the_half_width_is_kept_at_every_target() -> None:
    """Stated variance .01 at both targets, none wider: of independent targets each is kept by the root of 90 %."""
    errors = hand_errors(np.full((1, 1, 6), 0.01), stated=0.01)
    picked = best_plan(errors, hand_pours(), np.array([0]))
    assert picked is not None
    found = figures_of(picked, errors, hand_pours(), TARGET, n_freedom=5.0)
    # Outside value: scipy's Student law with five degrees of freedom.
    wanted = stats.t(5).ppf(0.5 + 0.5 * np.sqrt(0.90)) * 0.1
    assert np.log1p(found.reads_within) == pytest.approx(wanted, rel=1e-9)
    stated = np.tile([0.01, 0.0025], 3)
    wider = replace(errors, stated_variance=np.broadcast_to(stated, errors.error.shape))
    unlike = figures_of(picked, wider, hand_pours(), TARGET, n_freedom=5.0)
    half = np.log1p(unlike.reads_within)
    kept = np.prod([2 * stats.t(5).cdf(half / sd) - 1 for sd in (0.10, 0.05)])
    assert kept == pytest.approx(0.90, abs=1e-9)
