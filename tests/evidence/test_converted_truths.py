"""Truths that were converted: each held against as too weak and as too strong, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.evidence import tabulate
from planner.evidence.cells import Cells
from planner.evidence.converted_truths import spread_by_conversion
from planner.terms.plan.settings import Prior
from planner.terms.records import Break, CuringRecord, Records
from planner.verdict.validation.pours_of_cells import pours_of_cells
from tests.laws.invented import settings

CV = 0.1


def broken(batch: str, curing: str, age_h: float, *mpa: float, cv: float = 0.0) -> list[Break]:
    return [
        Break(
            batch=batch, mix="m", curing="site" if curing == "site" else "standard", age_h=age_h, tested_h=age_h,
            strength_mpa=one, geometry="cube 100 mm", conversion_cv=cv,
        )
        for one in mpa
    ]  # fmt: skip


def cells(*, is_site: bool = True) -> Cells:
    """Batches a and b; the truth of a at 12 h is converted and 10 % off, that of b is measured."""
    curing = "site" if is_site else "standard"
    breaks = []
    for batch, cv in (("a", CV), ("b", 0.0), ("c", 0.0)):
        breaks += broken(batch, "standard", 6.0, 10.0, 10.2) + broken(batch, "standard", 24.0, 30.0, 30.4)
        breaks += broken(batch, curing, 12.0, 20.0, 20.0, 20.0, 20.0, cv=cv)
    prior = Prior(standard_curing_c=20.0, geometry="cube 100 mm")
    asked = settings(ages_h=(6.0, 12.0, 24.0), targets_h=(12.0,), fewest_ages=2, prior=prior)
    warm = np.array([0.0, 48.0]), np.array([20.0, 20.0])
    records = tuple(
        CuringRecord(batch=batch, curing="site", placement="", elapsed_h=warm[0], temperature_c=warm[1])
        for batch in "abc"
    )
    return tabulate(Records(breaks=tuple(breaks), curing_records=records), asked)


def test_a_converted_truth_counts_half_as_too_strong_and_half_as_too_weak() -> None:
    checks = cells().checks
    assert checks.truth_mpa == pytest.approx([20.0 / 0.9, 20.0 / 1.1, 20.0, 20.0])
    assert checks.weight == pytest.approx([0.5, 0.5, 1.0, 1.0])
    assert checks.conversion_cv == pytest.approx([-CV, CV, 0.0, 0.0])
    # a reading of 21 MPa: 5 % off itself, and the spread of the truth on top, both in squares
    error = 21.0 / checks.truth_mpa[:2] - 1.0
    assert checks.weight[:2] @ error**2 == pytest.approx(0.05**2 + (CV * 21.0 / 20.0) ** 2)
    assert checks.weight[:2] @ error == pytest.approx(0.05)


def test_measured_truths_stay_as_they_are() -> None:
    plain = cells().checks.take(np.array([2, 3]))
    assert spread_by_conversion(plain) is plain


@pytest.mark.parametrize("is_site", [True, False])
def test_a_pour_is_judged_by_both_sides(is_site: bool) -> None:
    pours = pours_of_cells(cells(is_site=is_site), (6.0,), (1.0,), setting=0)
    of_a = pours.held_out.check_batch == 0
    assert sorted(pours.held_out.check_truth_mpa[of_a]) == pytest.approx([20.0 / 1.1, 20.0 / 0.9])
    assert pours.check_weight[of_a] == pytest.approx([0.5, 0.5])
    assert pours.check_weight[~of_a] == pytest.approx([1.0, 1.0])
