"""How far a break may slip: closed forms of a straight line in ln(age), ends, and the limit of the engine."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from planner.choices import enumerate_choices, offered_ages
from planner.evidence import tabulate
from planner.evidence.within_test_scatter import Scatter, ScatterSource
from planner.fitting.single import CurveFit
from planner.resampling import Scoring, error_matrix, joints_of
from planner.terms.plan.settings import Prior
from planner.terms.schedule import Schedule
from planner.verdict.design.age_slip import KEPT, slip_of
from planner.verdict.design.efficiency import Grown, PlacementLimit, placement_limit
from planner.verdict.design.least_variance import LeastVariance, efficiency
from tests.laws.invented import AGES_H, programme, settings

ASTM = "ASTM C39"
SPREAD = math.log(4.0)  # between one age of 6, 24 and 96 h and the next, in ln(age)


def constant_scatter(cv: float) -> Scatter:
    none = np.empty(0)
    return Scatter(none, none, none, cv, False, ScatterSource.STATED, none, none)


def level_line(*, target_h: float, known_h: tuple[float, ...] = (1.0, 6.0, 24.0, 96.0, 2000.0)) -> PlacementLimit:
    """One batch of 30 MPa at every age: relative scatter is then the same in MPa everywhere, and age is maturity."""
    fit = CurveFit(curve="logarithmic", parameters=np.array([30.0, 0.0]), knots_h=np.array(known_h))
    grown = Grown(fit, np.array((0.0, *known_h)), np.array((0.0, *known_h)), constant_scatter(0.04))
    least = LeastVariance(variance=1.0, weights=np.ones(len(known_h)), certified=1.0, budget=1.0)
    gradient = fit.derivative(np.array([target_h])) / 30.0
    ages_h = np.array(known_h)
    return PlacementLimit(
        grown.sensitivity(ages_h)[None], gradient, np.ones(1), least, ages_h, "logarithmic", (grown,), np.zeros(1, int)
    )


def test_the_variance_of_a_straight_line_by_hand() -> None:
    # derived: relative variance of a line at x0 is cv^2 / n (1 / 3 + (x0 - mean)^2 / Sxx) at three ages of n specimens
    limit = level_line(target_h=24.0)
    assert limit.variance_of((6.0, 24.0, 96.0), (2, 2, 2)) == pytest.approx(0.04**2 / 2 / 3)
    off = level_line(target_h=96.0)
    assert off.variance_of((6.0, 24.0, 96.0), (2, 2, 2)) == pytest.approx(0.04**2 / 2 * (1 / 3 + 1 / 2))


def test_slips_of_three_ages_by_hand() -> None:
    # derived: ages at x = -L, 0, L about the target. With one moved by d the mean is d / 3 away from the target;
    # 95 % is kept while (d / 3)^2 / Sxx <= (1 / 0.95 - 1) / 3 = 1 / 57.
    # Outer age: Sxx = L^2 + (L + d)^2 - d^2 / 3, so 17 d^2 = 6 L d + 6 L^2, d = 3 L (1 +- sqrt(1 + 34 / 3)) / 17.
    # Middle age: Sxx = 2 L^2 + 2 d^2 / 3, so 51 d^2 = 18 L^2.
    root = math.sqrt(1.0 + 34.0 / 3.0)
    outward, inward = 3.0 * SPREAD * (root + 1.0) / 17.0, 3.0 * SPREAD * (root - 1.0) / 17.0
    middle = SPREAD * math.sqrt(18.0 / 51.0)
    found = slip_of(level_line(target_h=24.0), Schedule((6.0, 24.0, 96.0), (2, 2, 2)), standard=ASTM)
    assert found is not None
    expected = [
        (6.0 * -math.expm1(-outward), 6.0 * math.expm1(inward)),
        (24.0 * -math.expm1(-middle), 24.0 * math.expm1(middle)),
        (96.0 * -math.expm1(-inward), 96.0 * math.expm1(outward)),
    ]
    for item, (earlier_h, later_h) in zip(found.breaks, expected, strict=True):
        assert (item.earlier_h, item.later_h) == pytest.approx((earlier_h, later_h), rel=1e-8)
        assert (item.earlier_ends, item.later_ends) == ("precision", "precision")
    # ASTM C39: 24 h +-0.5 h; unlisted ages 2 % (from memory)
    assert [item.permitted_h for item in found.breaks] == pytest.approx([0.12, 0.5, 1.92])
    assert (found.kept, found.standard) == (0.95, ASTM)


def test_a_break_stops_at_its_neighbours_and_at_the_recorded_ages() -> None:
    # Twenty specimens stand at the target itself: where the two others go hardly matters.
    limit = level_line(target_h=6.0, known_h=(6.0, 24.0, 96.0, 100.0))
    schedule = Schedule((6.0, 24.0, 96.0), (20, 1, 1))
    found = slip_of(limit, schedule, standard=ASTM)
    assert found is not None
    first, second, third = found.breaks
    assert (first.earlier_h, first.earlier_ends) == (0.0, "records")
    assert (second.earlier_h, second.earlier_ends) == (18.0, "neighbour")
    assert (second.later_h, second.later_ends) == (72.0, "neighbour")
    assert (third.earlier_h, third.earlier_ends) == (72.0, "neighbour")
    assert (third.later_h, third.later_ends) == pytest.approx((4.0, "records"))


def test_moving_may_raise_the_precision_and_then_ends_where_the_records_do() -> None:
    # Read at 1000 h, beyond all ages: the later the last break the better.
    limit = level_line(target_h=1000.0)
    schedule = Schedule((6.0, 24.0, 96.0), (2, 2, 2))
    assert limit.variance_of((6.0, 24.0, 500.0), (2, 2, 2)) < limit.variance_of(schedule.ages_h, schedule.specimens)
    found = slip_of(limit, schedule, standard=ASTM)
    assert found is not None
    assert (found.breaks[2].later_h, found.breaks[2].later_ends) == (2000.0 - 96.0, "records")
    assert found.breaks[2].earlier_ends == "precision"


def test_nothing_is_said_where_nothing_can_be_computed() -> None:
    limit = level_line(target_h=24.0)
    assert slip_of(None, Schedule((6.0, 24.0), (2, 2)), standard=ASTM) is None
    assert slip_of(limit, Schedule((0.5, 24.0), (2, 2)), standard=ASTM) is None  # before the recorded ages
    assert slip_of(limit, Schedule((24.0, 2500.0), (2, 2)), standard=ASTM) is None
    assert slip_of(level_line(target_h=6.0), Schedule((24.0,), (2,)), standard=ASTM) is None  # one age, no line


def engine_limit(within_test_cv_by_age: tuple[tuple[float, float], ...] = ()) -> PlacementLimit:
    """The limit of four invented batches."""
    prior = Prior(standard_curing_c=20.0, within_test_cv_by_age=within_test_cv_by_age)
    asked = settings(curves=("hyperbolic", "exponential"), prior=prior)
    cells = tabulate(programme(), asked)
    offered = offered_ages(cells.ages_h, cells.is_candidate, cells.typical_mpa(), asked.choices, asked.budget)
    choices = enumerate_choices(cells.ages_h, offered, asked.choices, asked.budget)
    scoring = Scoring.of(cells, asked.target)
    matrix = error_matrix(cells, choices, joints_of(asked.curves, cells.settings), scoring)
    found = placement_limit(cells, scoring, matrix, offered, asked.curves)
    assert found is not None
    return found


@pytest.mark.parametrize("by_age", [(), ((6.0, 0.08), (168.0, 0.02))], ids=["pooled scatter", "scatter by age"])
def test_at_the_slip_found_the_schedule_has_95_percent_of_its_efficiency(
    by_age: tuple[tuple[float, float], ...],
) -> None:
    limit = engine_limit(by_age)
    assert limit.sensitivities_at(AGES_H) == pytest.approx(limit.sensitivities, rel=1e-12)
    schedule = Schedule((6.0, 12.0, 72.0, 168.0), (2, 3, 2, 2))
    planned = limit.efficiency_of(schedule)
    found = slip_of(limit, schedule, standard=ASTM)
    assert found is not None
    assert planned is not None

    def kept(place: int, age_h: float) -> float:
        ages_h = (*schedule.ages_h[:place], age_h, *schedule.ages_h[place + 1 :])
        found, counts = limit.sensitivities_at(ages_h), np.array(schedule.specimens, dtype=float)
        generous = replace(limit.least, certified=0.5 * limit.least.certified)  # so that no efficiency is cut at 1
        return (
            2.0
            * efficiency(counts, found, limit.gradients, limit=generous, model_weights=limit.model_weights)
            / planned
        )

    n_crossed = 0
    for place, item in enumerate(found.breaks):
        assert kept(place, item.age_h) == pytest.approx(1.0, abs=1e-9)
        for way, by_h, ends in ((-1, item.earlier_h, item.earlier_ends), (1, item.later_h, item.later_ends)):
            assert all(kept(place, item.age_h + way * by_h * part) > KEPT for part in (0.25, 0.5, 0.75, 0.99))
            if ends == "precision":
                n_crossed += 1
                assert kept(place, item.age_h + way * by_h) == pytest.approx(KEPT, abs=1e-6)
                assert kept(place, item.age_h + way * by_h * 1.01) < KEPT
    assert n_crossed >= 2
