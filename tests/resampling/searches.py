"""A search small enough for tests that is nevertheless cut into many pieces."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from planner.read import load_plan
from planner.resampling import ErrorMatrix, Scoring, error_matrix, joints_of
from planner.resampling.search import partition as cutting
from planner.starter import STARTER
from planner.steps.allowed_choices import offered_choices
from planner.terms.plan.settings import Plan

N_ROWS = 3_000  # joint choices a piece may hold here
ARRAYS = tuple(
    field.name
    for field in fields(ErrorMatrix)
    if field.name not in ("choices", "joints", "dearest_whole") and not field.name.startswith("n_")
)


@lru_cache(maxsize=1)
def starter_plan() -> Plan:
    return load_plan(STARTER / "plan.toml")


def other_plan() -> Plan:
    """The same with one break 1 MPa stronger."""
    plan = starter_plan()
    first, *others = plan.records.breaks
    stronger = replace(first, strength_mpa=first.strength_mpa + 1.0)
    return replace(plan, records=replace(plan.records, breaks=(stronger, *others)))


def search(plan: Plan | None = None, **options: Any) -> ErrorMatrix:
    plan = plan or starter_plan()
    cells, _offered, choices = offered_choices(plan)
    joints = joints_of(plan.settings.curves, cells.settings)
    return error_matrix(cells, choices, joints, Scoring.of(cells, plan.settings.target), **options)


def cut_small(monkeypatch: pytest.MonkeyPatch, n_rows: int = N_ROWS) -> None:
    monkeypatch.setattr(cutting, "ROWS_PER_PIECE", n_rows)


def assert_same(one: ErrorMatrix, other: ErrorMatrix) -> None:
    """To the last bit."""
    for name in ARRAYS:
        first, second = getattr(one, name), getattr(other, name)
        assert first.dtype == second.dtype, name
        assert np.array_equal(first, second, equal_nan=first.dtype.kind == "f"), name
    assert (one.n_fits, one.n_searched, one.dearest_whole) == (other.n_fits, other.n_searched, other.dearest_whole)
