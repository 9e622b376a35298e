"""Cells, views and checks: who may be fitted, who is the truth, and what each counts."""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import combinations

import numpy as np
import pytest

from planner.evidence import tabulate
from planner.evidence.cells import Checks, SiteCuredCompanions, Views, WholeCells
from planner.terms.plan.settings import MaturityGrid, Prior
from planner.terms.problems import InputError
from planner.terms.records import Records
from tests.laws.invented import AGES_H, cell, programme, room_record, settings


def standard_only(n_at_target, *, batches=("B1", "B2")):
    breaks = []
    for b, name in enumerate(batches):
        for age_h in AGES_H:
            n = n_at_target if age_h == 12.0 else 3
            breaks += cell(name, age_h, 10.0 * (b + 1) + age_h / 10 + np.arange(n))
    return Records(breaks=tuple(breaks))


def test_companions_of_their_own_leave_every_standard_cell_to_the_fit():
    cells = tabulate(programme(), settings())
    assert cells.views.batch == ("B1", "B2", "B3", "B4")
    assert np.all(cells.views.n_specimens == 3)
    assert {str(item) for item in cells.checks.condition} == {"site-cured"}
    assert cells.checked_against == "site-cured"


def test_three_specimens_at_the_target_are_the_truth_and_never_fitted():
    cells = tabulate(standard_only(3), settings())
    at = AGES_H.index(12.0)
    assert np.isnan(cells.views.mean_mpa[:, at]).all()
    np.testing.assert_allclose(cells.checks.truth_mpa, [10 + 1.2 + 1, 20 + 1.2 + 1])
    assert cells.checked_against == "standard-cured"
    # An age that no curve can be fitted at is no break age, and that is said.
    assert cells.ages_h[cells.is_candidate].tolist() == [age for age in AGES_H if age != 12.0]
    (said,) = [item for item in cells.cautions if item.code == "age-only-checks"]
    assert said.text.startswith("12 h cannot be a break age")


@pytest.mark.parametrize("n_at_target", [4, 5, 6])
def test_a_cell_of_four_or_more_is_parted_and_no_specimen_serves_twice(n_at_target):
    cells = tabulate(standard_only(n_at_target), settings())
    at = AGES_H.index(12.0)
    strengths_mpa = {"B1": 10 + 1.2 + np.arange(n_at_target), "B2": 20 + 1.2 + np.arange(n_at_target)}
    assert len(cells.views.batch) == 12
    for view, batch in enumerate(cells.views.batch):
        (check,) = np.flatnonzero(cells.checks.view == view)
        n_fit, n_truth = cells.views.n_specimens[view, at], cells.checks.n_specimens[check]
        assert n_fit + n_truth == n_at_target
        # Both means together are the mean of the whole cell: every specimen is on one side.
        whole = n_fit * cells.views.mean_mpa[view, at] + n_truth * cells.checks.truth_mpa[check]
        np.testing.assert_allclose(whole, strengths_mpa[batch].sum())
        halves = [np.mean(c) for c in combinations(strengths_mpa[batch], int(n_truth))]
        assert np.min(np.abs(np.array(halves) - cells.checks.truth_mpa[check])) < 1e-9


def test_four_specimens_are_parted_in_all_six_ways():
    cells = tabulate(standard_only(4), settings())
    truths = sorted(cells.checks.truth_mpa[cells.check_unit == 0])
    wanted = sorted(np.mean(pair) for pair in combinations(10 + 1.2 + np.arange(4), 2))
    np.testing.assert_allclose(truths, wanted)


def test_a_target_that_is_no_candidate_keeps_its_whole_cell_as_truth():
    asked = settings(ages_h=[age for age in AGES_H if age != 12.0])
    cells = tabulate(standard_only(6), asked)
    assert cells.views.batch == ("B1", "B2")
    assert np.all(cells.checks.n_specimens == 6)
    assert np.isnan(cells.views.mean_mpa[:, AGES_H.index(12.0)]).all()


def test_a_batch_without_the_target_is_left_out_and_named():
    records = standard_only(3)
    short = tuple(item for item in records.breaks if not (item.batch == "B2" and item.age_h == 12.0))
    cells = tabulate(replace(records, breaks=short), settings())
    assert cells.unit_names == ("B1",)
    (said,) = [caution for caution in cells.cautions if caution.code == "batch-not-checked"]
    assert "B2" in said.text


def test_batches_of_companions_alone_are_left_out_and_named():
    records = programme()
    alone = tuple(item for item in records.breaks if item.curing == "site" or item.batch != "B2")
    cells = tabulate(replace(records, breaks=alone), settings())
    assert "B2" not in cells.unit_names
    (said,) = [caution for caution in cells.cautions if caution.code == "companions-alone"]
    assert "No curve can be fitted to B2:" in said.text
    assert "companions-alone" not in {caution.code for caution in tabulate(records, settings()).cautions}


def test_no_batch_with_the_target_is_refused():
    with pytest.raises(InputError, match="No batch was broken at every target age \\(10 h\\)"):
        tabulate(standard_only(3), settings(targets_h=(10.0,)))


def test_holes_are_nan_with_no_specimens():
    records = programme()
    without = tuple(item for item in records.breaks if not (item.batch == "B2" and item.age_h == 72.0))
    cells = tabulate(replace(records, breaks=without), settings())
    at = AGES_H.index(72.0)
    assert np.isnan(cells.views.mean_mpa[1, at])
    assert cells.views.n_specimens[1, at] == 0
    assert np.isnan(cells.views.maturity_h[0, 1, at])
    assert np.isfinite(cells.views.mean_mpa[[0, 2, 3], at]).all()
    np.testing.assert_allclose(cells.typical_mpa()[at], cells.views.mean_mpa[[0, 2, 3], at].mean())


def test_several_site_conditions_share_the_weight_of_their_batch():
    records = programme(n_batches=2)
    cool = cell("B1", 12.0, [11.0, 12.0], curing="site", placement="cool")
    warm = cell("B1", 12.0, [15.0, 16.0, 17.0], curing="site", placement="warm")
    kept = tuple(item for item in records.breaks if not (item.batch == "B1" and item.curing == "site"))
    curing = (room_record("B1", placement="cool", degrees_c=10.0), room_record("B1", placement="warm", degrees_c=30.0))
    cells = tabulate(Records(breaks=(*kept, *cool, *warm), curing_records=(*curing, room_record("B2"))), settings())
    own = np.flatnonzero(cells.check_unit == 0)
    assert [str(cells.checks.condition[k]) for k in own] == ["site-cured (cool)", "site-cured (warm)"]
    np.testing.assert_allclose(cells.checks.weight[own], 0.5)
    np.testing.assert_allclose(cells.checks.truth_mpa[own], [11.5, 16.0])
    assert cells.checks.maturity_h[0, own[0]] < 12.0 < cells.checks.maturity_h[0, own[1]]


@pytest.mark.parametrize("hold_out", ["batch", "mix"])
@pytest.mark.parametrize("n_at_target", [3, 4])
def test_weights_sum_to_one_over_each_unit_and_target(hold_out, n_at_target):
    records = standard_only(n_at_target, batches=("B1", "B2", "B3"))
    mixed = tuple(replace(item, mix="A" if item.batch != "B3" else "C") for item in records.breaks)
    asked = settings(targets_h=(12.0, 72.0), prior=Prior(standard_curing_c=20.0, hold_out=hold_out))
    cells = tabulate(replace(records, breaks=mixed), asked)
    assert cells.unit_names == (("A", "C") if hold_out == "mix" else ("B1", "B2", "B3"))
    for unit in range(cells.n_units):
        for target in range(2):
            is_own = (cells.check_unit == unit) & (cells.checks.target == target)
            np.testing.assert_allclose(cells.checks.weight[is_own].sum(), 1.0)
    if hold_out == "mix":  # batches of one mix count alike
        names = np.array(cells.views.batch)[cells.checks.view]
        for name in ("B1", "B2"):
            np.testing.assert_allclose(cells.checks.weight[(names == name) & (cells.checks.target == 0)].sum(), 0.5)


def test_the_order_of_rows_changes_no_cell():
    records = programme()
    shuffled = np.random.default_rng(5).permutation(len(records.breaks))
    other = tabulate(replace(records, breaks=tuple(records.breaks[i] for i in shuffled)), settings())
    cells = tabulate(records, settings())
    order = [other.views.batch.index(name) for name in cells.views.batch]
    np.testing.assert_allclose(other.views.mean_mpa[order], cells.views.mean_mpa, rtol=1e-14)
    np.testing.assert_allclose(other.cv, cells.cv, rtol=1e-12)
    truth = {cells.views.batch[v]: t for v, t in zip(cells.checks.view, cells.checks.truth_mpa, strict=True)}
    again = {other.views.batch[v]: t for v, t in zip(other.checks.view, other.checks.truth_mpa, strict=True)}
    assert truth.keys() == again.keys()
    np.testing.assert_allclose([again[name] for name in truth], list(truth.values()), rtol=1e-14)


GRID = MaturityGrid(equivalent_age_q_k=(4000.0, 5000.0), datum_c=(-10.0, 0.0))


@pytest.mark.parametrize(("warmest_c", "n_settings"), [(29.0, 1), (30.0, 6)])
def test_constants_are_searched_only_where_temperatures_tell_them_apart(warmest_c, n_settings):
    records = programme()
    warm = tuple(replace(r, temperature_c=np.array([warmest_c, warmest_c])) for r in records.curing_records)
    cells = tabulate(replace(records, curing_records=warm), replace(settings(), maturity=GRID))
    assert len(cells.settings) == n_settings
    said = [caution.text for caution in cells.cautions if caution.code == "constants-not-told-apart"]
    assert len(said) == (n_settings == 1)
    if said:
        assert "span 9.0 K" in said[0]
        listed = sorted(GRID.equivalent_age_q_k)
        assert [one.constant for one in cells.settings] == [listed[len(listed) // 2]]  # the middle one serves for all


@pytest.mark.parametrize(
    ("q_k", "datum_c", "added"),
    [
        ((4000.0, 5000.0, 6000.0), (-10.0, -5.0, 0.0, 5.0), [4500.0, 5500.0, -7.5, -2.5, 2.5]),
        ((6000.0, 4000.0), (), [5000.0]),  # in any order
        ((4000.0, 4500.0, 5001.0), (), [4750.5]),  # fine steps are left as they are
        ((), (-2.5, 0.0, 2.6), [1.3]),
        ((5000.0,), (0.0,), []),
    ],
)
def test_coarse_steps_of_the_grid_are_halved_once(q_k, datum_c, added):
    records = programme()
    warm = tuple(replace(r, temperature_c=np.array([35.0, 35.0])) for r in records.curing_records)
    grid = MaturityGrid(equivalent_age_q_k=q_k, datum_c=datum_c)
    cells = tabulate(replace(records, curing_records=warm), replace(settings(), maturity=grid))
    assert [one.constant for one in cells.settings] == pytest.approx([*q_k, *datum_c, *added])
    n_q = len([value for value in added if value > 100.0])
    methods = [one.method for one in cells.settings]
    assert methods[len(q_k) + len(datum_c) :] == ["equivalent age"] * n_q + ["temperature-time"] * (len(added) - n_q)
    assert cells.views.maturity_h.shape[0] == cells.checks.maturity_h.shape[0] == len(cells.settings)


def test_without_temperatures_age_is_the_clock_and_site_breaks_do_not_count():
    records = replace(programme(), curing_records=())
    cells = tabulate(records, settings(prior=Prior()))
    assert [setting.method for setting in cells.settings] == ["age"]
    assert cells.checked_against == "standard-cured"
    np.testing.assert_allclose(cells.views.maturity_h[0, 0, [0, 2]], [6.0, 24.0])
    assert "age-is-the-clock" in [caution.code for caution in cells.cautions]


def test_ages_before_final_set_and_unbroken_ages_are_not_offered():
    asked = replace(settings(ages_h=(3.0, *AGES_H)), final_set_h=8.0)
    cells = tabulate(programme(), asked)
    assert cells.is_candidate.tolist() == [False, True, True, True, True, True]
    assert not [caution for caution in cells.cautions if caution.code == "age-not-in-records"]
    cells = tabulate(programme(), settings(ages_h=(3.0, *AGES_H)))
    (said,) = [caution.text for caution in cells.cautions if caution.code == "age-not-in-records"]
    assert "3 h (nearest broken: 6 h)" in said


def test_what_is_taken_belongs_together():
    cells = tabulate(programme(n_batches=4), settings())
    kept = np.array([1, 3])
    fewer = cells.of_views(kept)
    assert fewer.views.batch == tuple(cells.views.batch[v] for v in kept)
    np.testing.assert_array_equal(fewer.views.maturity_h, cells.views.maturity_h[:, kept])
    np.testing.assert_array_equal(fewer.views.unit, cells.views.unit[kept])
    for part, whole in ((fewer.checks, cells.checks), (fewer.site_cured, cells.site_cured)):
        own = np.flatnonzero(np.isin(whole.view, kept))
        assert len(part) == len(own) > 0
        np.testing.assert_array_equal(kept[part.view], whole.view[own])
        np.testing.assert_array_equal(part.truth_mpa, whole.truth_mpa[own])
        np.testing.assert_array_equal(part.maturity_h, whole.maturity_h[:, own])


@pytest.mark.parametrize("part", [Views, WholeCells, Checks, SiteCuredCompanions])
def test_every_field_is_taken(part):
    """A field that `take` forgets keeps its length."""
    cells = tabulate(programme(n_batches=4), settings())
    whole = {
        Views: cells.views,
        WholeCells: cells.views.whole,
        Checks: cells.checks,
        SiteCuredCompanions: cells.site_cured,
    }[part]
    index = np.array([2, 0])
    taken = whole.take(index)
    for field in fields(part):
        before, after = getattr(whole, field.name), getattr(taken, field.name)
        if isinstance(before, WholeCells):
            np.testing.assert_array_equal(after.mean_mpa, before.mean_mpa[index])
        elif isinstance(before, tuple):
            assert after == (before[2], before[0]), field.name
        else:
            axis = 1 if field.name == "maturity_h" else 0
            np.testing.assert_array_equal(after, np.take(before, index, axis=axis), err_msg=field.name)
            assert after.flags.c_contiguous, field.name
