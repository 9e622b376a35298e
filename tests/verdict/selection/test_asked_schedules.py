"""Which schedules of a very large search are held to the end."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from planner.verdict.selection import asked_schedules


def test_the_first_schedule_of_every_joint_is_the_lowest_of_those_it_suits_best() -> None:
    score = [0.5, 0.2, 0.2, 0.9, 0.1, 0.7]
    matrix = SimpleNamespace(
        best_joint=np.array([0, 0, 0, 2, 1, 2]), score=np.array(score), joints=("a", "b", "c", "d")
    )
    assert asked_schedules._of_each_joint(matrix).tolist() == [1, 4, 5]  # type: ignore[arg-type]
