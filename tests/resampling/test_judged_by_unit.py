"""Levels of a programme unit by unit, against the error of the same programme as a whole."""

from __future__ import annotations

import numpy as np

from planner.resampling import Scoring, joints_of
from planner.resampling.errors.later_pours.judged_programmes import judge, judge_by_unit
from planner.steps.allowed_choices import offered_choices
from tests.laws.invented import plan_of, programme


def test_the_mean_level_over_units_is_the_squared_error() -> None:
    plan = plan_of(programme(n_batches=5, site_factor=1.1))
    cells, _offered, choices = offered_choices(plan)
    scoring = Scoring.of(cells, plan.settings.target)
    about = (cells, scoring, choices, np.array([3, 5]), np.zeros(2, dtype=np.int64))
    joints = joints_of(plan.settings.curves, cells.settings)
    whole = judge(*about, joints, judged_on="later pour", trial_batches=(1, 2, 3))
    by_unit = judge_by_unit(*about, joints, judged_on="later pour", trial_batches=(1, 2, 3))
    level = by_unit.level.mean(axis=2)
    assert np.all(level > by_unit.variance.mean(axis=2))  # so that no floor acts
    np.testing.assert_allclose(whole.rms, np.sqrt(level), rtol=1e-5)
