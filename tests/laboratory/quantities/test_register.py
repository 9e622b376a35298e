"""Every specimen has a label of its own."""

from __future__ import annotations

import pytest

from planner.laboratory.quantities.register import specimen_labels, specimens_register
from planner.terms.plan.settings import ProgrammeSettings
from planner.terms.schedule import Schedule


def test_labels() -> None:
    assert specimen_labels(6.0, 2) == ("6h-1", "6h-2")
    assert specimen_labels(672.0, 1, casting="A") == ("A-28d-1",)
    assert specimen_labels(36.5, 1) == ("36.5h-1",)


def test_a_register_by_hand() -> None:
    register = specimens_register(
        Schedule((6.0, 24.0), (2, 1)), ProgrammeSettings(spares=0.1, instrumented=2), castings=("A", "B")
    )
    assert [entry.label for entry in register[:6]] == [
        "A-6h-1",
        "A-6h-2",
        "A-1d-1",
        "A-spare-1",
        "A-instrumented-1",
        "A-instrumented-2",
    ]
    assert len({entry.label for entry in register}) == len(register) == 12
    assert [entry.age_h for entry in register[:6]] == [6.0, 6.0, 24.0, None, None, None]


def test_castings_need_different_names() -> None:
    with pytest.raises(ValueError, match='different names, but "A" is given more than once'):
        specimens_register(Schedule((6.0,), (2,)), ProgrammeSettings(), castings=("A", "A"))
