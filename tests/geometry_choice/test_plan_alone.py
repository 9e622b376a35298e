"""A plan as if one geometry were all there is: its breaks, prices, minutes and scatter, and no other's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.conversion.converted_records import converted_records, shared_departure
from planner.conversion.stated_conversions import conversion_for
from planner.geometry_choice.plan_alone import as_cast, plan_of, settings_of
from planner.terms.results.geometry.geometry_options import ErrorParts
from tests.conversion.invented_pairs import CUBE, CYLINDER
from tests.geometry_choice.two_geometries import CUBES, CYLINDERS, plan
from tests.report.invented_geometries import answer, option


def test_the_target_geometry_keeps_its_own_breaks_alone() -> None:
    asked = plan()
    alone = plan_of(asked, CYLINDERS, None)
    assert alone.records.breaks == tuple(item for item in asked.records.breaks if item.geometry == CYLINDER)
    settings = alone.settings
    assert settings.specimens == ()
    assert settings.prior.geometry == CYLINDER
    assert (settings.prior.within_test_cv, settings.prior.within_test_cv_by_age) == (0.07, ())
    assert settings.prior.truth_cv_by_age == ()
    assert settings.laboratory == asked.settings.laboratory
    assert settings.costs is not None
    # as the table of costs says, with the concrete of one cylinder: pi / 4 x 1.5^2 x 3 dm3 = 5.30 L and waste
    assert (settings.costs.specimen, settings.costs.preparation, settings.costs.break_one) == (18.0, 12.0, 25.0)
    assert settings.costs.litres_each is not None
    assert 5.30 < settings.costs.litres_each < 7.0
    assert settings.costs.are_ends_prepared


def test_another_geometry_has_its_prices_its_minutes_and_converted_breaks() -> None:
    asked = plan()
    conversion = conversion_for(asked.records, asked.settings, CUBES)
    assert conversion is not None
    alone = plan_of(asked, CUBES, conversion, not_credited=0.0025)
    costs, laboratory = alone.settings.costs, alone.settings.laboratory
    assert costs is not None
    assert laboratory is not None
    assert (costs.specimen, costs.preparation, costs.break_one, costs.visit) == (9.0, 12.0, 14.0, 90.0)
    assert costs.litres_each is not None
    assert 1.0 < costs.litres_each < 1.4  # 1 dm3 and waste
    assert not costs.are_ends_prepared
    assert (laboratory.minutes_per_break, laboratory.is_break_time_stated, laboratory.machines) == (6.0, True, 2)
    assert alone.settings.prior.geometry == CUBE
    # the larger of the two targets' covariances counts
    common = [shared_departure(asked.records, conversion, target_age_h=age) for age in (16.0, 24.0)]
    assert 0.0 < common[1] < common[0]
    wanted = converted_records(asked.records, conversion, common=max(common), not_credited=0.0025)
    assert alone.records.breaks == wanted.breaks
    truths = [item for item in alone.records.breaks if item.geometry == CYLINDER]
    assert {item.curing for item in truths} == {"site"}
    assert [item.conversion_cv for item in truths] == [0.05] * len(truths)  # root of what is not credited


def test_the_scatter_of_truths_is_that_of_all_cylinders_not_of_the_cubes() -> None:
    asked = plan()
    conversion = conversion_for(asked.records, asked.settings, CUBES)
    for stated, wanted in ((0.07, 0.07), (None, 0.02 * np.sqrt(2.0))):  # two specimens 4 % apart, at every age
        kinds = (CUBES, replace(CYLINDERS, within_test_cv=stated))
        changed = replace(asked, settings=replace(asked.settings, specimens=kinds))
        prior = plan_of(changed, CUBES, conversion).settings.prior
        assert [age for age, _ in prior.truth_cv_by_age] == [16.0, 24.0]
        assert [cv for _, cv in prior.truth_cv_by_age] == pytest.approx([wanted] * 2, rel=1e-3)
        assert (prior.within_test_cv, prior.within_test_cv_by_age) == (0.05, ())


def test_scatter_that_is_not_stated_stays_as_the_records_tell_it() -> None:
    asked = plan()
    prior = plan_of(asked, replace(CYLINDERS, within_test_cv=None), None).settings.prior
    assert (prior.within_test_cv, prior.within_test_cv_by_age) == (None, ((12.0, 0.09),))


def test_what_was_chosen_decides_what_is_counted_with_afterwards() -> None:
    asked = plan()
    assert settings_of(asked.settings, None) is asked.settings
    assert as_cast(asked, None) is asked
    error = ErrorParts(total_rms=0.07, curve_rms=0.06, conversion_rms=0.02, not_credited=0.0025)
    cube = answer(options=(option(geometry=CUBE, error=error),), target_geometry=CYLINDER)
    cylinder = answer(options=(option(geometry=CYLINDER),), target_geometry=CYLINDER)
    conversion = conversion_for(asked.records, asked.settings, CUBES)
    for found, kind, wanted in (
        (cube, CUBES, plan_of(asked, CUBES, conversion, not_credited=0.0025)),
        (cylinder, CYLINDERS, plan_of(asked, CYLINDERS, None)),
    ):
        settings = settings_of(asked.settings, found)
        assert (settings.prior.geometry, settings.costs, settings.laboratory) == (
            kind.geometry, wanted.settings.costs, wanted.settings.laboratory,
        )  # fmt: skip
        again = as_cast(asked, found)
        assert again.settings == wanted.settings
        assert again.records.breaks == wanted.records.breaks


def test_without_prices_none_are_invented() -> None:
    asked = plan()
    bare = replace(asked, settings=replace(asked.settings, costs=None, laboratory=None))
    assert plan_of(bare, CUBES, None).settings.costs is None
    laboratory = plan_of(bare, CUBES, None).settings.laboratory
    assert laboratory is not None
    assert laboratory.minutes_per_break == 6.0
    assert plan_of(bare, CYLINDERS, None).settings.laboratory is None
