"""Pairs from records, and records as one geometry would have them."""

from __future__ import annotations

import numpy as np
import pytest

from planner.conversion import converted_records, estimated_conversion, pairs_of, stated_conversion
from planner.conversion.converted_records import shared_departure
from planner.terms.records import Records
from tests.conversion.invented_pairs import CUBE, CYLINDER, broken

RATIOS = {"a": 0.80, "b": 0.82, "c": 0.84, "d": 0.86}


def study() -> Records:
    """Four batches with cubes and cylinders at 12 h and on site at 16 h, a fifth with cubes alone."""
    breaks = []
    for batch, ratio in RATIOS.items():
        breaks += broken(batch, CUBE, 12.0, 19.8, 20.2)
        breaks += broken(batch, CYLINDER, 12.0, 20.0 * ratio - 0.2, 20.0 * ratio + 0.2)
        breaks += broken(batch, CUBE, 16.0, 29.7, 30.3, curing="site")
        breaks += broken(batch, CYLINDER, 16.0, 30.0 * ratio - 0.3, 30.0 * ratio + 0.3, curing="site")
    breaks += broken("e", CUBE, 12.0, 19.8, 20.2)
    breaks += broken("e", CUBE, 16.0, 29.7, 30.3, curing="site")
    return Records(breaks=tuple(breaks))


def test_pairs_are_means_of_one_batch_curing_and_age() -> None:
    found = pairs_of(study().breaks, CUBE, CYLINDER, from_cv=0.02, to_cv=0.04)
    assert found.batches == ("a", "b", "c", "d")
    assert list(zip(found.curing, found.age_h, strict=True))[:2] == [("standard", 12.0), ("site", 16.0)]
    assert found.from_mpa[:2] == pytest.approx([20.0, 30.0])
    assert found.to_mpa[:2] == pytest.approx([16.0, 24.0])
    assert found.from_sd_mpa[:2] == pytest.approx([0.02 * 20 / np.sqrt(2), 0.02 * 30 / np.sqrt(2)])
    assert found.to_sd_mpa[:2] == pytest.approx([0.04 * 16 / np.sqrt(2), 0.04 * 24 / np.sqrt(2)])


def test_each_geometry_scatters_by_itself() -> None:
    found = pairs_of(study().breaks, CUBE, CYLINDER)
    # two specimens d apart have the standard deviation d / sqrt(2): cubes 1 % apart from their mean, sqrt(2) % CV
    assert found.from_sd_mpa[0] / 20.0 == pytest.approx(0.01 * np.sqrt(2) / np.sqrt(2), rel=1e-6)
    each = [0.2 / (20.0 * ratio) * np.sqrt(2) for ratio in RATIOS.values() for _ in range(2)]
    each[1::2] = [0.3 / (30.0 * ratio) * np.sqrt(2) for ratio in RATIOS.values()]
    assert found.to_sd_mpa[0] / 16.0 == pytest.approx(np.sqrt(np.mean(np.square(each))) / np.sqrt(2), rel=1e-6)


def test_truths_of_the_targets_geometry_are_held_against_the_conversion_without_their_batch() -> None:
    records = study()
    conversion = estimated_conversion(CUBE, CYLINDER, pairs_of(records.breaks, CUBE, CYLINDER))
    assert conversion is not None
    assert conversion.form == "ratio"
    made = converted_records(records, conversion).breaks
    factor = conversion.line.factor
    cubes = [item for item in made if item.batch == "a" and item.curing == "standard"]
    assert [item.geometry for item in cubes] == [CUBE, CUBE]
    assert [item.strength_mpa for item in cubes] == pytest.approx([19.8 * factor, 20.2 * factor])
    truth = [item for item in made if item.batch == "a" and item.curing == "site"]
    assert [item.geometry for item in truth] == [CYLINDER, CYLINDER]
    assert [item.conversion_cv for item in truth] == [0.0, 0.0]
    # a cube of 30 MPa read over this truth errs as 30 times the ratio of b, c and d does against 24 MPa
    without = conversion.judged["ratio"].left_out["a"].factor
    assert without == pytest.approx(0.84, abs=2e-3)
    mean = np.mean([item.strength_mpa for item in truth])
    assert 30.0 * factor / mean == pytest.approx(30.0 * without / 24.0, rel=1e-9)
    alone = [item for item in made if item.batch == "e" and item.curing == "site"]
    assert [item.geometry for item in alone] == [CUBE, CUBE]
    assert [item.strength_mpa for item in alone] == pytest.approx([29.7 * factor, 30.3 * factor])
    assert alone[0].conversion_cv == pytest.approx(np.sqrt(float(conversion.variance(30.0, 16.0))))


def test_a_covariance_above_nought_is_counted_twice_and_none_below() -> None:
    conversion = stated_conversion(CUBE, CYLINDER, factor=0.8, factor_cv=0.05)
    cv = {
        common: converted_records(study(), conversion, common=common).breaks[0].conversion_cv
        for common in (0.0, 4e-4, -4e-4)
    }
    assert cv[0.0] == pytest.approx(0.05)
    assert cv[4e-4] == pytest.approx(np.sqrt(0.05**2 + 8e-4))
    assert cv[-4e-4] == cv[0.0]


def test_shared_departure_by_hand() -> None:
    # Batches whose cubes are stronger and whose ratio is higher: read too low twice over. A later age with the same
    # ratio leaves a power law nothing to explain.
    strength = {"a": 18.0, "b": 19.0, "c": 21.0, "d": 22.0}
    breaks = []
    for batch, ratio in RATIOS.items():
        breaks += broken(batch, CUBE, 12.0, strength[batch])
        breaks += broken(batch, CYLINDER, 12.0, strength[batch] * ratio)
        breaks += broken(batch, CUBE, 72.0, 3.0 * strength[batch])
        breaks += broken(batch, CYLINDER, 72.0, 3.0 * strength[batch] * ratio)
    records = Records(breaks=tuple(breaks))
    conversion = estimated_conversion(CUBE, CYLINDER, pairs_of(breaks, CUBE, CYLINDER, from_cv=0.001, to_cv=0.001))
    assert conversion is not None
    level = np.log(list(strength.values()))
    left = [sum(r for r in RATIOS.values() if r != ratio) / 3 / ratio - 1.0 for ratio in RATIOS.values()]
    wanted = -np.cov(level, left, ddof=1)[0, 1]
    assert conversion.line.form == "ratio"
    assert wanted > 0
    assert shared_departure(records, conversion, target_age_h=16.0) == pytest.approx(wanted, rel=0.02)
    assert (
        shared_departure(records, stated_conversion(CUBE, CYLINDER, factor=0.8, factor_cv=0.05), target_age_h=16) == 0.0
    )
