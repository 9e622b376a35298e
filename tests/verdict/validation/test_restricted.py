"""Restrictions against plain loops: the compiled loop, the table, the argmin under masks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.evidence import tabulate
from planner.resampling import ErrorMatrix, Scoring, error_matrix
from planner.verdict.selection.fold_minima import lowest_by_fold
from planner.verdict.validation import restricted
from planner.verdict.validation.restricted import fold_table, restrict, thinned
from planner.verdict.validation.restricted_error import figures_at
from tests.verdict.small_table import small_plan, small_table


def plain_minima(loss: np.ndarray, base: np.ndarray, fewest: int) -> tuple[np.ndarray, np.ndarray]:
    """The same by its definition, one mean at a time."""
    n_choices, n_joints, n_units = loss.shape
    lowest = np.full((n_units + 1, n_choices), np.inf)
    joint = np.zeros((n_units + 1, n_choices), dtype=np.int16)
    for fold in range(n_units + 1):
        trained = [u for u in range(n_units) if u != fold]
        for c in range(n_choices):
            for j in range(n_joints):
                row = loss[c, j]
                held = [u for u in trained if not np.isnan(base[u])]
                shared = [u for u in held if not np.isnan(row[u])]
                is_out = fold < n_units and np.isnan(row[fold])
                if np.isinf(row).any() or is_out or not shared or len(shared) < min(fewest, len(held)):
                    continue
                lead = (row[shared] - base[shared]).mean()
                mean = np.mean([row[u] if u in shared else max(base[u] + lead, 0.0) for u in held])
                if mean < lowest[fold, c] - 1e-12:
                    lowest[fold, c], joint[fold, c] = mean, j
    return lowest, joint


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 5), st.booleans())
def test_compiled_minima_are_the_plain_ones(seed: int, n_units: int, has_holes: bool) -> None:
    generator = np.random.default_rng(seed)
    loss = generator.uniform(0.1, 1.0, (6, 4, n_units))
    base = np.zeros(n_units)
    if has_holes:
        loss[generator.random(loss.shape) < 0.15] = np.nan
        loss[generator.random(loss.shape) < 0.05] = np.inf
        base = generator.uniform(0.1, 1.0, n_units)
        base[1:][generator.random(n_units - 1) < 0.15] = np.nan
    lowest, joint = np.empty((n_units + 1, 6)), np.empty((n_units + 1, 6), dtype=np.int16)
    left_out = np.empty((n_units, 6))
    lowest_by_fold(loss, base, 3, lowest, joint, left_out)
    expected, expected_joint = plain_minima(loss, base, 3)
    np.testing.assert_allclose(lowest, expected, rtol=1e-12)
    had = np.isfinite(expected)
    assert (joint[had] == expected_joint[had]).all()
    for unit in range(n_units):
        for c in range(6):
            held = loss[c, joint[unit, c], unit] if had[unit, c] else np.nan
            np.testing.assert_equal(left_out[unit, c], held)


def rows_of(matrix: ErrorMatrix) -> dict[tuple[int, int], np.ndarray]:
    """Losses by schedule and joint."""
    keys = zip(matrix.row_choice.tolist(), matrix.row_joint.tolist(), strict=True)
    return dict(zip(keys, matrix.loss, strict=True))


@pytest.mark.parametrize("over_weight", [1.0, 3.0])  # the loss is linear in the variance, or it is not
@pytest.mark.parametrize("variance_factor", [1.0, 2.0])
@pytest.mark.parametrize("has_penalty", [False, True])
def test_the_table_agrees_with_the_search(over_weight: float, variance_factor: float, has_penalty: bool) -> None:
    table, _ = small_table()
    scoring = replace(table.scoring, over_weight=over_weight, variance_factor=variance_factor)
    without = error_matrix(table.cells, table.choices, table.joints, scoring)
    if has_penalty:
        penalty = np.random.default_rng(6).uniform(0.0, 2e-3, (len(table.joints), scoring.n_units))
        scoring = replace(scoring, penalty=penalty)
    table = fold_table(table.cells, table.choices, table.joints, scoring)
    matrix = error_matrix(table.cells, table.choices, table.joints, scoring)
    np.testing.assert_allclose(table.loss[-1], matrix.score, rtol=2e-6)
    # as many ages as parameters: both weightings fit alike, and equal losses fall either way
    assert (table.joint[-1] == matrix.best_joint).mean() > 0.95
    if has_penalty:
        bare, found = rows_of(without), rows_of(matrix)
        both = bare.keys() & found.keys()
        assert len(both) > 10
        for choice, joint in both:
            np.testing.assert_allclose(found[choice, joint], bare[choice, joint] + penalty[joint], rtol=1e-12)


def test_a_pick_under_a_mask_is_the_argmin_of_what_it_allows() -> None:
    table, _ = small_table()
    allowed = np.asarray(table.choices.n_specimens <= 7)
    found = restrict(table, allowed)
    assert found is not None
    for unit, (which, _joint) in found.picks.items():
        assert allowed[which]
        assert table.loss[unit, which] == table.loss[unit][allowed].min()
    assert found.which == np.flatnonzero(allowed)[np.argmin(table.loss[-1][allowed])]


def test_the_batch_left_out_has_no_say() -> None:
    table, _ = small_table()
    everything = np.ones(len(table.choices), dtype=bool)
    found = restrict(table, everything)
    assert found is not None
    for unit, (which, joint) in found.picks.items():
        own = table.scoring.unit == unit
        np.testing.assert_array_equal(found.at_checks.error[own], table.at_checks(which, joint).error[own])


def test_figures_of_a_biased_reading_by_hand() -> None:
    # every check 20 % high, no scatter anywhere: RMS 20 %, nothing within 10 %
    table, _ = small_table()
    found = restrict(table, np.ones(len(table.choices), dtype=bool))
    assert found is not None
    at = found.at_checks
    n_checks = len(at.error)
    high = type(at)(np.full(n_checks, 0.2), np.zeros(n_checks), np.zeros(n_checks), at.contribution)
    exact = type(table.scoring)(
        **{name: getattr(table.scoring, name) for name in table.scoring.__slots__}
        | {"truth_variance": np.zeros(n_checks)}
    )
    figures = figures_at(exact, high)
    assert figures.rms == pytest.approx(0.2)
    assert figures.within_tolerance == pytest.approx(0.0)


def test_more_workers_change_nothing() -> None:
    table, _ = small_table()
    again = fold_table(table.cells, table.choices, table.joints, table.scoring, n_workers=3)
    np.testing.assert_array_equal(again.loss, table.loss)
    np.testing.assert_array_equal(again.joint, table.joint)


@pytest.mark.parametrize("has_holes", [False, True])
def test_sets_looked_at_in_parts_are_scored_through_the_same_reference(
    has_holes: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reference is the best row of all sets, wherever it stands."""
    plan, (table, _) = small_plan(), small_table()
    cells = table.cells
    if has_holes:
        first = plan.records.breaks[0].batch
        latest_h = float(cells.ages_h[table.choices.set_members].max())
        kept = tuple(one for one in plan.records.breaks if one.batch != first or one.age_h != latest_h)
        cells = tabulate(replace(plan.records, breaks=kept), plan.settings)
    scoring = Scoring.of(cells, plan.settings.target)
    whole = fold_table(cells, table.choices, table.joints, scoring)
    assert whole.choices.n_sets > 10
    assert bool(np.isnan(whole.left_out).any()) == has_holes
    monkeypatch.setattr(restricted, "SETS_AT_ONCE", 3)
    parts = fold_table(cells, table.choices, table.joints, scoring, n_workers=2)
    for name in ("loss", "joint", "left_out"):
        np.testing.assert_array_equal(getattr(parts, name), getattr(whole, name))


def test_thinned_keeps_even_patterns_only() -> None:
    table, _ = small_table()
    few = thinned(table.choices, most=10)
    assert 0 < len(few) <= len(table.choices)
    for which in range(len(few)):
        counts = few.schedule(which).specimens
        assert max(counts) - min(counts) <= 1
    assert thinned(table.choices) is table.choices
    some = table.choices.part(np.asarray(table.choices.n_specimens == 6))
    assert {some.schedule(which).n_specimens for which in range(len(some))} == {6}
