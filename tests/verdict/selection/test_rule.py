"""The choosing rule over matrices written by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.choices import choice_set
from planner.resampling import ErrorMatrix, Joint
from planner.terms.maturity import MaturitySetting
from planner.verdict.selection.rule import Rule

JOINT = Joint("hyperbolic", "absolute", 0, MaturitySetting("age"))
OTHER = Joint("logarithmic", "absolute", 0, MaturitySetting("age"))


def matrix_of(loss, *, choice=None, joint=None, variance=None, is_over=None, level=None):
    """Rows by hand; schedule k breaks at ages 0 and k + 1."""
    rows = np.array(loss, dtype=np.float64)
    n_rows = len(rows)
    choice = np.arange(n_rows) if choice is None else np.array(choice)
    n_choices = int(choice.max()) + 1
    choices = choice_set(np.arange(1.0, n_choices + 2), [((0, k + 1), (2, 2)) for k in range(n_choices)])
    full = np.full(rows.shape, 0.01) if variance is None else np.array(variance, dtype=np.float64)
    return ErrorMatrix(
        choices=choices,
        joints=(JOINT, OTHER),
        row_choice=choice,
        row_joint=np.zeros(n_rows, dtype=np.int64) if joint is None else np.array(joint),
        loss=rows,
        level=(rows if level is None else np.array(level)).astype(np.float32),
        variance=full.astype(np.float32),
        is_over=np.zeros(rows.shape, dtype=bool) if is_over is None else np.array(is_over),
        is_low=np.ones(n_rows, dtype=bool),
        score=rows.mean(axis=1)[:n_choices],
        best_joint=np.zeros(n_choices, dtype=np.int64),
        n_fits=0,
        n_at_bound=0,
        n_unconverged=0,
        n_second_looks=0,
        n_searched=n_choices,
    )


def rule_of(matrix, tier=None):
    n_choices = len(matrix.choices)
    return Rule(matrix, np.zeros(n_choices, dtype=np.int64) if tier is None else np.array(tier))


def picked(rule, units=None):
    n_units = rule.matrix.loss.shape[1]
    return rule.pick(rule.training(np.ones(n_units, dtype=bool) if units is None else np.array(units)))


def test_the_lowest_mean_is_the_best_and_the_cheapest_tied_is_chosen():
    # Row 1 differs from row 0 by -1, 1, 1, -1 about 0.25: behind 0.25 <= sd/2 = 0.58. Row 2 is far behind.
    loss = [[10.0, 10.0, 10.0, 10.0], [9.0, 11.0, 11.0, 10.0], [20.0, 20.0, 20.0, 20.0]]
    pick = picked(rule_of(matrix_of(loss), tier=[2, 1, 0]))
    assert (pick.best, pick.chosen) == (0, 1)
    assert picked(rule_of(matrix_of(loss), tier=[0, 1, 2])).chosen == 0


def test_equally_cheap_tied_choices_go_by_loss():
    loss = [[10.0, 10.0, 10.0, 10.0], [9.0, 11.0, 11.0, 10.0]]
    assert picked(rule_of(matrix_of(loss))).chosen == 0


@pytest.mark.parametrize(
    ("changes", "is_tied"),
    [
        ({}, True),
        ({"variance": [[0.01] * 4, [0.0125] * 4]}, False),  # above 1.21 times the best's
        ({"variance": [[0.01] * 4, [0.012] * 4]}, True),
        ({"level": [[1.0] * 4, [1.0] * 4]}, False),  # behind by 0.25, above 0.21 of the best's true square
        ({"level": [[1.2] * 4, [9.0] * 4]}, True),  # 0.252; the other's own level does not count
        ({"is_over": [[False] * 4, [False, True, False, False]]}, False),  # a batch the best does not miss
        ({"is_over": [[False, True, False, False], [False, True, False, False]]}, True),
    ],
)
def test_a_tie_needs_scatter_and_over_prediction_no_worse(changes, is_tied):
    loss = [[10.0, 10.0, 10.0, 10.0], [9.0, 11.0, 11.0, 10.0]]
    rule = rule_of(matrix_of(loss, **changes), tier=[1, 0])
    assert picked(rule).chosen == (1 if is_tied else 0)


def test_one_catastrophe_is_no_tie_however_wide_the_scatter():
    # Behind by 1, 1, 1, 40: mean 10.75 <= sd/2 = 9.75 fails, and the cap of 1.21 stands besides.
    loss = [[10.0, 10.0, 10.0, 10.0], [9.0, 9.0, 9.0, 50.0]]
    assert picked(rule_of(matrix_of(loss), tier=[1, 0])).chosen == 0


def test_the_rule_without_a_unit_has_not_seen_it():
    # Row 1 is best but for unit 3; without unit 3 it wins, with it row 0 does.
    loss = np.array([[10.0, 10.0, 10.0, 10.0], [5.0, 5.0, 5.0, 90.0]])
    rule = rule_of(matrix_of(loss))
    assert picked(rule).best == 0
    folds = rule.folds()
    assert {unit: pick.best for unit, pick in folds.items()} == {0: 0, 1: 0, 2: 0, 3: 1}
    assert {unit: pick.best for unit, pick in folds.items()} == {
        unit: picked(rule, np.arange(4) != unit).best for unit in range(4)
    }
    loss[1, 3] = 1e9  # whatever the unit left out says, its own fold does not move
    assert rule_of(matrix_of(loss)).folds()[3].best == 1


def test_tied_lists_each_schedule_once_with_its_best_joint_cheapest_first():
    loss = [[10.0, 10, 10, 10], [10.1, 9.9, 10.2, 10], [9, 11, 11, 10], [9, 11.1, 11, 10], [30, 30, 30, 30]]
    matrix = matrix_of(loss, choice=[0, 0, 1, 1, 2], joint=[0, 1, 0, 1, 0])
    rule = rule_of(matrix, tier=[1, 0, 0])
    training = rule.training(np.ones(4, dtype=bool))
    assert rule.tied(training, 0).tolist() == [2, 0]


def test_a_hole_is_scored_through_the_choice_that_most_units_hold():
    # Row 1 lacks unit 3 but is 2 better wherever both are: 8 on average against 10, and not a mean of its own.
    loss = [[4.0, 8.0, 8.0, 20.0], [2.0, 6.0, 6.0, np.nan], [1.0, np.nan, np.nan, np.nan]]
    rule = rule_of(matrix_of(loss))
    training = rule.training(np.ones(4, dtype=bool))
    assert training.rows.tolist() == [0, 1]  # one common unit is too few
    np.testing.assert_allclose(training.loss[1], [2.0, 6.0, 6.0, 18.0])
    assert picked(rule).best == 1
    assert 1 not in {pick.best for unit, pick in rule.folds().items() if unit == 3}


def test_only_the_rows_allowed_are_chosen_from():
    loss = [[1.0, 1.0, 1.0], [5.0, 5.0, 5.0], [4.0, 4.0, 4.0]]
    rule = rule_of(matrix_of(loss))
    training = rule.training(np.ones(3, dtype=bool), only=np.array([False, True, True]))
    assert rule.pick(training).best == 2
    assert {pick.best for pick in rule.folds(only=np.array([False, True, True])).values()} == {2}
    assert rule.pick(replace(training, rows=training.rows[:0])) is None
    assert rule_of(matrix_of([[1.0], [2.0]])).folds() == {}


@pytest.mark.parametrize("has_holes", [False, True])
@pytest.mark.parametrize("n_units", [1, 2, 6])
def test_a_rung_is_the_rule_among_schedules_with_at_most_so_many_specimens(n_units, has_holes):
    random = np.random.default_rng(n_units)
    for _ in range(20):
        loss = random.gamma(4.0, 1.0, (40, n_units))
        if has_holes:
            loss[random.random(loss.shape) < 0.1] = np.nan
            loss[:2] = 4.0  # two schedules that every unit holds
        matrix = matrix_of(loss, variance=np.full(loss.shape, 1.0))
        counts = random.integers(1, 5, (40, 2))
        matrix = replace(matrix, choices=replace(matrix.choices, pattern_of=np.arange(40), patterns=counts))
        rule = rule_of(matrix, tier=counts.sum(axis=1))
        n_specimens = counts.sum(axis=1)
        rungs = rule.rungs()
        assert [rung.most_specimens for rung in rungs] == sorted(set(n_specimens.tolist()))
        for rung in rungs:
            only = n_specimens <= rung.most_specimens
            assert rung.pick == rule.pick(rule.training(np.ones(n_units, dtype=bool), only=only))
            assert rung.folds == rule.folds(only=only)
