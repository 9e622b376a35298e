"""A schedule of the plan with an age that nobody broke is not compared, and that is said."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from planner.terms.labels import schedule_label
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.schedule import Schedule
from planner.verdict.compared.reference_schedules import _rows


@pytest.mark.parametrize(("age_h", "is_compared"), [(72.0, True), (71.9, False), (48.0, False)])
def test_only_what_was_broken_at_all_its_ages_is_compared(age_h: float, is_compared: bool) -> None:
    ages_h = np.array([6.0, 24.0, 72.0, 672.0])
    asked = Schedule((6.0, age_h, 672.0), (3, 3, 2))
    cells = SimpleNamespace(ages_h=ages_h, typical_mpa=lambda: np.array([10.0, 20.0, 32.0, 40.0]))
    settings = SimpleNamespace(
        budget=SimpleNamespace(specimens=12), choices=SimpleNamespace(specimens_per_age=(2, 3)), compare=(asked,)
    )
    search: Any = SimpleNamespace(plan=SimpleNamespace(settings=settings), cells=cells, offered=np.arange(4))
    rows, said = _rows(search, 3)
    assert [label for label, *_ in rows].count(ChoiceRole.COMPARED) == is_compared
    assert [caution.code for caution in said] == ["not-compared"] * (not is_compared)
    assert is_compared or schedule_label(asked) in said[0].text
