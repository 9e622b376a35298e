"""Shares of batches and pours that keep every target: each place that tells one, against the rule itself."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import combinations

import numpy as np
import pytest
from scipy import stats

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling import Draws, Joint, Scoring, figures_of, joints_of, pair_errors, resample_choice
from planner.resampling.errors import arithmetic, closed_form
from planner.resampling.errors.closed_form import closed_figures
from planner.resampling.errors.later_pours.judged_programmes import judge
from planner.resampling.errors.later_pours.later_pour import moments
from planner.resampling.errors.later_pours.pour_readings import read
from planner.resampling.errors.later_pours.trial_means import of_trial_batches
from planner.resampling.errors.sweeps import sweep_sets, variance_with
from planner.steps.allowed_choices import offered_choices
from planner.terms.arrays import FloatArray
from planner.terms.plan.settings import JudgedOn
from planner.terms.records import Records
from planner.verdict.statistics.coverage_bounds import share_inside_lower, share_inside_lower_at
from planner.verdict.validation.drawn_batches import FreshLook
from planner.verdict.validation.next_batch import (
    NextBatchErrors,
    at_worst_target,
    batch_equivalents,
    inside_lower,
    next_batch_verdict,
    stated_verdict,
)
from planner.verdict.validation.restricted import AtChecks
from planner.verdict.validation.restricted_error import figures_at
from tests.laws.invented import plan_of, programme, settings


@lru_cache(maxsize=1)
def searched() -> tuple[Cells, Scoring, ChoiceSet, tuple[Joint, ...]]:
    """Five batches with companions at two targets, at the second in two places; targets and places weigh unlike."""
    first, second, edge = (
        programme(n_batches=5, site_factor=factor, target_h=age_h)
        for factor, age_h in ((1.06, 12.0), (0.98, 24.0), (1.03, 24.0))
    )
    at_first, at_second, at_edge = (
        [replace(item, placement=place) for item in records.breaks if item.curing == "site"]
        for records, place in ((first, "top"), (second, "top"), (edge, "edge"))
    )
    curing = [replace(one, placement=place) for one in first.curing_records for place in ("top", "edge")]
    breaks = [item for item in first.breaks if item.curing != "site"]
    records = Records(breaks=(*breaks, *at_first, *at_second, *at_edge), curing_records=tuple(curing))
    asked = settings(targets_h=(12.0, 24.0), weights=(3.0, 1.0))
    plan = plan_of(records, replace(asked, target=replace(asked.target, tolerance=0.08)))
    cells, _offered, choices = offered_choices(plan)
    scoring = Scoring.of(cells, plan.settings.target)
    heavy = np.array([condition.place == "edge" for condition in cells.checks.condition])
    weight = np.where(scoring.target == 1, np.where(heavy, 0.8, 0.2), scoring.weight)
    return cells, replace(scoring, weight=weight), choices, joints_of(plan.settings.curves, cells.settings)


def by_the_rule(cells: Cells, scoring: Scoring, error: FloatArray, spread: FloatArray, level: float) -> float:
    """Share of units by the rule, from normal errors that are narrowed to a level."""
    weight = scoring.check_weight / cells.n_units
    bias = float(weight @ error)
    factor = arithmetic.narrowing(level, float(weight @ (error**2 + spread)), bias)
    return arithmetic.share_of_normal_units(
        arithmetic.narrowed(error, bias, factor), factor * np.sqrt(spread), scoring.tolerance, weight, scoring.unit,
        scoring.target,
    )  # fmt: skip


@pytest.mark.parametrize("judged_on", ["later pour", "own batch"])
@pytest.mark.parametrize("number", [1, 2])
def test_fixed_programmes_are_judged_by_the_rule(judged_on: JudgedOn, number: int) -> None:
    cells, scoring, choices, joints = searched()
    which, joint_of = np.array([0, 5, 11]), np.array([0, 1, 0])
    stated = judge(
        cells, scoring, choices, which, joint_of, joints, judged_on=judged_on, trial_batches=(number,)
    )  # fmt: skip
    m = 1 if judged_on == "own batch" else number
    for row, (at, joint) in enumerate(zip(which.tolist(), joint_of.tolist(), strict=True)):
        alone = choices.alone(at)
        found = read(cells, alone.set_members, alone.set_n_ages, np.zeros(1), [joints[joint]], judged_on)
        own = variance_with(found.single_variance, alone.specimens)[0]
        spread = (found.variance[0] + own) / m
        wanted = by_the_rule(cells, scoring, found.mean[0], spread, float(stated.rms[row, 0]) ** 2)
        assert 0.02 < wanted < 0.98
        assert stated.within_tolerance[row, 0] == pytest.approx(wanted, abs=2e-6)


@pytest.mark.parametrize("many", [200, 1])  # beyond so many checks points stand for the normal laws
def test_listed_schedules_and_prices_are_told_by_the_rule(many: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cells, scoring, choices, joints = searched()
    alone = choices.alone(4)
    swept = sweep_sets(cells, alone.set_members, alone.set_n_ages, joints[0])
    at = AtChecks(
        swept.error[0], variance_with(swept.contribution, alone.specimens)[0], swept.prior_variance[0], np.empty((0, 0))
    )
    priced = figures_at(scoring, at)
    wanted = by_the_rule(cells, scoring, at.error, at.variance, priced.rms**2)
    assert 0.02 < wanted < 0.98
    assert priced.within_tolerance == pytest.approx(wanted, rel=1e-12)
    if many == 1:
        few = closed_form.describe_choices.py_func
        monkeypatch.setitem(few.__globals__, "_MANY", 1)
        monkeypatch.setattr(closed_form, "describe_choices", few)
    listed = closed_figures(cells, scoring, choices, np.array([4]), np.array([0]), joints)
    assert listed.within_tolerance[0] == pytest.approx(wanted, abs=2e-6)
    assert listed.rms[0] == pytest.approx(priced.rms, rel=1e-12)


def test_checks_weigh_as_their_targets_do() -> None:
    cells, scoring, *_ = searched()
    for unit in range(cells.n_units):
        for target, wanted in ((0, 0.75), (1, 0.25)):
            is_own = (scoring.unit == unit) & (scoring.target == target)
            assert scoring.check_weight[is_own].sum() == pytest.approx(wanted)


def test_resampled_batches_are_inside_when_every_target_is() -> None:
    """Two draws: in the first batch 0 misses the first target, in the second the heavier place of the second target."""
    cells, scoring, choices, joints = searched()
    shown = resample_choice(cells, choices, 4, joints[0], Draws(cells, n_draws=2, seed=1))
    drawn = np.tile(0.01 * (-1.0) ** np.arange(len(scoring.unit)), (2, 1))
    first, second = (np.flatnonzero((scoring.unit == 0) & (scoring.target == t)) for t in (0, 1))
    assert (len(first), len(second)) == (1, 2)
    drawn[0, first], drawn[1, second[0]] = 0.5, 0.5
    level = 0.5**2  # so wide that nothing is narrowed
    by_hand = replace(
        shown, drawn=drawn, linear=drawn, error=np.full(len(scoring.unit), 0.5), schedule_variance=0.0 * scoring.weight
    )
    found = figures_of(cells, scoring, by_hand)
    assert found.rms**2 < level
    assert found.within_tolerance == pytest.approx((4 + 0.0 + 4 + 0.2) / 10)
    alone = figures_of(cells, scoring, by_hand, target=1)
    assert alone.within_tolerance == pytest.approx((5 + 4.2) / 10)


def test_drawn_batches_are_inside_when_every_target_is() -> None:
    """Next to no scatter: batches 0 and 1 miss both targets, batch 2 the second alone, the other two keep them."""
    _, scoring, *_ = searched()
    error = np.where(scoring.unit < 2, 0.5, np.where((scoring.unit == 2) & (scoring.target == 1), -0.5, 0.01))
    look = FreshLook(
        drawn=None, settings=None, scoring=scoring, choices=None, joint=None, error=error, variance=1e-12 + 0.0 * error,
    )  # type: ignore[arg-type]  # fmt: skip
    assert look.inside() == pytest.approx(2 / 5)
    assert look.inside(target=0) == pytest.approx(3 / 5)
    assert look.inside(target=1) == pytest.approx(2 / 5)


def test_a_curve_of_several_trial_batches_is_one_curve_at_every_target() -> None:
    """Four other batches: six curves of two on each of five pours, at two targets, the second in two places."""
    cells, scoring, choices, joints = searched()
    single = pair_errors(cells, scoring, choices, 4, joints[0])
    assert single is not None
    double = of_trial_batches(single, scoring, 2)
    for pairs, n_curves, n_of_all in ((single, 4, 5), (double, 6, 10)):
        assert len(np.unique(pairs.calibrated_on)) == n_of_all
        _, first, n_rows = np.unique(pairs.pair, return_index=True, return_counts=True)
        assert (len(n_rows), set(n_rows.tolist())) == (5 * n_curves, {3})
        assert len({(float(pairs.calibrated_on[at]), float(pairs.read_on[at])) for at in first}) == 5 * n_curves
    one = {(int(c), int(k)): e for c, k, e in zip(single.calibrated_on, single.check, single.error, strict=True)}
    for pair in np.unique(double.pair):
        alike = [
            {
                both
                for both in combinations(range(5), 2)
                if np.isclose(
                    np.mean([one.get((batch, int(double.check[at])), np.nan) for batch in both]), double.error[at]
                )
            }
            for at in np.flatnonzero(double.pair == pair)
        ]
        assert len(set.intersection(*alike)) == 1  # the same two batches at every check


def test_a_later_pour_is_inside_when_every_target_is() -> None:
    """Two curves on two pours. Errors of 5 and 12 %, 2 and -3 %, 15 and -16 %, 9 and 9 %; beyond 10 % is outside."""
    errors = by_hand([0.05, 0.12, 0.02, -0.03, 0.15, -0.16, 0.09, 0.09])
    level = float(errors.weight @ errors.error**2)
    stated = next_batch_verdict(errors, scoring_of(2), own_level=level, own_rms=np.sqrt(level))
    assert stated.within_tolerance == pytest.approx(0.5)
    assert stated.over_predicted_beyond_tolerance == pytest.approx(0.75 * 0.25 + 0.25 * 0.25)  # of readings


def by_hand(error: list[float]) -> NextBatchErrors:
    n = len(error) // 2
    values = np.array(error)
    return NextBatchErrors(
        error=values, level=values**2, read_on=np.repeat([0.0, 1.0], n), pair=np.repeat([7, 3, 5, 9], 2)[: 2 * n],
        target=np.tile([0, 1], n), weight=np.tile([0.75, 0.25], n) / n, n_batches=2, squares=np.full(3, 0.01),
    )  # fmt: skip


def scoring_of(n_targets: int) -> Scoring:
    _, scoring, *_ = searched()
    weights = tuple(np.full(n_targets, 1.0 / n_targets).tolist())
    return replace(scoring, tolerance=0.10, target_weights=weights)


def test_the_bound_on_pours_counts_every_pair_by_its_worst_target() -> None:
    errors = by_hand([0.05, 0.12, 0.02, -0.03, 0.15, -0.16, 0.09, 0.09])
    worst = at_worst_target(errors)
    assert worst.error.tolist() == [0.12, -0.03, -0.16, 0.09]
    np.testing.assert_allclose(worst.weight, 0.25)
    assert worst.pair.tolist() == [7, 3, 5, 9]
    found = batch_equivalents(worst)
    assert found.mean() == pytest.approx(0.005)
    bound = inside_lower(errors, 1.0, tolerance=0.30)
    assert bound is not None
    assert bound == pytest.approx(share_inside_lower(found, tolerance=0.30))
    # Never above the bound of the share itself; of one target the errors alone decide.
    small = 0.02
    assert share_inside_lower_at(small, errors.n_batches) < bound
    assert inside_lower(errors, small, tolerance=0.30) == share_inside_lower_at(small, errors.n_batches)
    of_one = replace(errors, target=np.zeros(8, dtype=np.int64))
    assert inside_lower(of_one, small, tolerance=0.30) == inside_lower(of_one, 1.0, tolerance=0.30)
    # One target: nothing changes.
    alone = replace(errors, target=np.zeros(8, dtype=np.int64), pair=np.arange(8))
    np.testing.assert_array_equal(at_worst_target(alone).weight, alone.weight)


def test_a_stated_spread_between_batches_is_kept_at_every_target() -> None:
    """RMS sqrt(.05^2 + 2 .06^2). Outside value: scipy's normal law of two or three targets with a correlation of .8."""
    rms = np.sqrt(0.05**2 + 2 * 0.06**2)
    for n_targets in (1, 2, 3):
        stated = stated_verdict(0.06, scoring_of(n_targets), own_level=0.0025, own_rms=0.05)
        covariance = rms**2 * (0.8 + 0.2 * np.eye(n_targets))
        law = stats.multivariate_normal(np.zeros(n_targets), covariance)
        wanted = law.cdf(np.full(n_targets, 0.1), lower_limit=np.full(n_targets, -0.1))
        assert stated.within_tolerance == pytest.approx(wanted, abs=1e-3)


@pytest.mark.parametrize(("correlation", "n_targets", "high"), [(0.8, 2, 0.02), (0.8, 4, 0.03)])
def test_the_law_says_what_is_true_of_pours_whose_targets_move_together(
    correlation: float, n_targets: int, high: float
) -> None:
    """Nine batches, sd 8 %, 400 sets with a fixed seed.

    The mean over sets has a standard error of .6 points, so a law that is right by less than .8 points leaves these
    bands in fewer than 3 of 100 seeds. The worst target alone is 7 and 15 points high, the product 6 and 13 low.
    """
    generator = np.random.default_rng(11)
    covariance = 0.08**2 * (correlation + (1.0 - correlation) * np.eye(n_targets))
    law = stats.multivariate_normal(np.zeros(n_targets), 2.0 * covariance)
    true = law.cdf(np.full(n_targets, 0.1), lower_limit=np.full(n_targets, -0.1))
    found = []
    pour, target = (index.ravel() for index in np.meshgrid(range(9), range(n_targets), indexing="ij"))
    for _ in range(400):
        batch = generator.multivariate_normal(np.zeros(n_targets), covariance, 9)
        mean, variance, n_others = moments(np.where(np.eye(9, dtype=bool)[:, :, None], np.nan, batch[:, None] - batch))
        level, wide = (mean**2 + variance - variance / n_others).mean(), (mean**2 + variance).mean()
        factor = arithmetic.narrowing(float(level), float(wide), float(mean.mean()))
        narrowed = arithmetic.narrowed(mean, float(mean.mean()), factor)
        found.append(
            arithmetic.share_of_normal_units(
                narrowed.ravel(), factor * np.sqrt(variance).ravel(), 0.1, np.ones(len(pour)), pour, target
            )
        )
    assert float(np.mean(found)) == pytest.approx(float(true), abs=high)
