"""Frontiers that never rise, gains and equalities against figures worked out again."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.choices import choice_set
from planner.terms.results.choice_role import ChoiceRole
from planner.terms.results.recommended.rated_choice import RatedChoice
from planner.terms.schedule import Schedule
from planner.verdict.answers.price.pricing import equality, frontier_along, rival_name, single_variances, specimen_steps
from planner.verdict.statistics.isotonic import falling
from planner.verdict.validation.restricted import fold_table, restrict
from planner.verdict.validation.restricted_error import figures_at
from tests.report.invented_result import invented_choice
from tests.verdict.small_table import small_table


def test_pooling_by_hand() -> None:
    assert falling(np.array([4.0, 5.0, 3.0])).tolist() == [4.5, 4.5, 3.0]
    assert falling(np.array([1.0, 2.0, 6.0])).tolist() == [3.0, 3.0, 3.0]
    assert falling(np.array([3.0, 2.0, 1.0])).tolist() == [3.0, 2.0, 1.0]


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=30))
def test_pooling_never_rises_and_keeps_the_mean(squares: list[float]) -> None:
    smooth = falling(np.array(squares))
    assert (np.diff(smooth) <= 1e-12).all()
    assert smooth.mean() == pytest.approx(np.mean(squares), abs=1e-12)


def test_the_frontier_is_monotone_honest_and_of_real_schedules() -> None:
    table, _ = small_table()
    n_specimens = table.choices.n_specimens.astype(float)
    points = frontier_along(table, n_specimens, cost=None)
    assert len(points) > 1
    assert all(later.rms <= earlier.rms for earlier, later in pairwise(points))
    known = {table.choices.schedule(which) for which in range(len(table.choices))}
    for point in points:
        assert point.schedule in known
        assert point.n_specimens == point.schedule.n_specimens <= point.limit
        found = restrict(table, np.asarray(n_specimens <= point.limit))
        assert found is not None
        assert point.rms_unsmoothed == figures_at(table.scoring, found.at_checks).rms
        # honest: each batch is read by what was taken without it
        for unit, (which, joint) in found.picks.items():
            assert table.loss[unit, which] == table.loss[unit][n_specimens <= point.limit].min()
            assert joint == table.joint[unit, which]


def test_money_limits_are_kept() -> None:
    table, _ = small_table()
    cost = 100.0 + 7.0 * table.choices.n_specimens + 30.0 * table.choices.n_ages
    points = frontier_along(table, cost, cost=cost)
    for point in points:
        assert point.cost == pytest.approx(100 + 7 * point.n_specimens + 30 * point.schedule.n_ages)
        assert point.cost <= point.limit
    assert [point.limit for point in points] == sorted(point.limit for point in points)


def rated(schedule: Schedule, joint: int) -> RatedChoice:
    table, _ = small_table()
    known = table.joints[joint]
    return replace(
        invented_choice(ChoiceRole.RECOMMENDED, schedule.ages_h, schedule.specimens, 0.05),
        curve=known.curve,
        weighting=known.weighting,
        maturity=known.maturity,
    )


def test_a_gain_is_the_variance_that_one_more_specimen_takes_away() -> None:
    table, _ = small_table()
    schedule = Schedule((10.0, 14.0, 18.0), (2, 3, 2))
    joint = next(j for j, known in enumerate(table.joints) if known.curve == "logarithmic")
    choice = rated(schedule, joint)
    gains = specimen_steps(table, choice, 1, rms=0.06, per_age=(2, 3), most_specimens=8)
    assert [gain.is_allowed for gain in gains] == [True, False, True]
    for place, gain in enumerate(gains):
        counts = list(schedule.specimens)
        before = _variance(schedule.ages_h, counts, joint)
        counts[place] += 1
        spared = before - _variance(schedule.ages_h, counts, joint)
        assert gain.rms_now**2 - gain.rms_then**2 == pytest.approx(spared, rel=1e-9)
    assert (single_variances(table, choice) > 0).all()


def _variance(ages_h: tuple[float, ...], counts: list[int], joint: int) -> float:
    table, _ = small_table()
    ages = table.cells.ages_h
    positions = [int(np.argmin(np.abs(ages - age))) for age in ages_h]
    alone = fold_table(table.cells, choice_set(ages, [(positions, counts)]), table.joints, table.scoring)
    at = alone.at_checks(0, joint)
    return float(table.scoring.by_unit(at.variance).mean())


def test_as_many_specimens_as_are_said_do_equal_the_recommended() -> None:
    table, _ = small_table()
    other = rated(Schedule((8.0, 14.0, 24.0), (3, 3, 2)), 0)
    own = _rms(other.schedule)
    wanted = own - 0.001
    found = equality(table, other, rated(Schedule((10.0, 14.0, 18.0), (2, 2, 2)), 0), rms=wanted, points=())
    assert found is not None
    assert found.rms == pytest.approx(own)
    assert found.schedule_needed is not None
    assert found.n_specimens_needed == found.schedule_needed.n_specimens > other.schedule.n_specimens
    assert _rms(found.schedule_needed, level_only=True) <= wanted + 1e-4  # picks may change with the counts
    assert str(found.n_specimens_needed) in found.sentence


def _rms(schedule: Schedule, *, level_only: bool = False) -> float:
    table, _ = small_table()
    ages = table.cells.ages_h
    positions = [int(np.argmin(np.abs(ages - age))) for age in schedule.ages_h]
    alone = fold_table(table.cells, choice_set(ages, [(positions, schedule.specimens)]), table.joints, table.scoring)
    found = restrict(alone, np.ones(1, dtype=bool))
    assert found is not None
    figures = figures_at(table.scoring, found.at_checks)
    return float(np.sqrt(max(figures.level, 0.0))) if level_only else figures.rms


def test_what_is_equal_already_and_what_never_will_be() -> None:
    table, _ = small_table()
    other = rated(Schedule((24.0, 72.0, 168.0), (3, 3, 3)), 0)
    ours = rated(Schedule((10.0, 14.0, 18.0), (2, 2, 2)), 0)
    never = equality(table, other, ours, rms=0.02, points=())
    assert never is not None
    assert never.n_specimens_needed is None
    assert "no number of specimens" in never.sentence
    already = equality(table, other, ours, rms=0.9, points=())
    assert already is not None
    assert already.n_specimens_needed == 9
    assert rival_name(ChoiceRole.COMPARED) == "your schedule"
