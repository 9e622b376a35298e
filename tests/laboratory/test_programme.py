"""Specimens, moulds and concrete of a whole calibration."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.laboratory.programme_totals import n_spares_for, third_break_probability, whole_programme
from planner.terms.plan.settings import ProgrammeSettings
from planner.terms.schedule import Schedule

SCHEDULE = Schedule((12.0, 24.0, 672.0), (2, 3, 2))  # 7 specimens
PROGRAMME = ProgrammeSettings(instrumented=2, spares=0.10, companions_per_check=3, n_checks=4, trial_batches=3)


def test_a_programme_by_hand() -> None:
    count = whole_programme(SCHEDULE, PROGRAMME, 0.04, "cylinder 100x200 mm")
    assert (count.n_schedule, count.n_spares, count.n_instrumented) == (21, 3, 6)
    assert (count.n_checks, count.n_companions) == (4, 12)
    assert (count.n_made, count.n_broken) == (42, 33)
    assert count.n_moulds == 10  # 7 + 1 + 2 of one trial batch
    # pi/4 x 1 dm2 x 2 dm = 1.5708 L each, 10 specimens and 10 % waste: 17.279 L
    assert count.litres_per_trial_batch == pytest.approx(17.2788, abs=1e-4)
    assert count.litres == pytest.approx(1.5707963 * 1.1 * 42)
    # two ages of two specimens in each of three trial batches at 7.7 %
    assert count.expected_third_breaks == pytest.approx(6 * third_break_probability(0.04))


def test_moulds_of_a_site_check_may_outnumber_those_of_a_trial_batch() -> None:
    programme = ProgrammeSettings(instrumented=0, companions_per_check=9, n_checks=1)
    assert whole_programme(SCHEDULE, programme, 0.04).n_moulds == 9
    assert whole_programme(SCHEDULE, programme, 0.04).litres is None
    never = ProgrammeSettings(instrumented=0, companions_per_check=9, n_checks=0)
    assert whole_programme(SCHEDULE, never, 0.04).n_moulds == 7


def test_scatter_may_differ_from_age_to_age() -> None:
    by_age = whole_programme(SCHEDULE, ProgrammeSettings(), (0.06, 0.05, 0.03))
    expected = third_break_probability(0.06) + third_break_probability(0.03)  # 24 h has three already
    assert by_age.expected_third_breaks == pytest.approx(expected)
    with pytest.raises(ValueError, match="One scatter for each of the 3 ages is needed, given 2"):
        whole_programme(SCHEDULE, ProgrammeSettings(), (0.06, 0.05))


@pytest.mark.parametrize(
    ("share", "n_specimens", "n_spares"),
    [(0.1, 30, 3), (0.1, 31, 4), (0.0, 9, 0), (0.2, 15, 3), (0.01, 1, 1)],
)
def test_spares_are_rounded_up(share: float, n_specimens: int, n_spares: int) -> None:
    assert n_spares_for(n_specimens, ProgrammeSettings(spares=share)) == n_spares


@pytest.mark.parametrize(
    ("cv", "held", "exact"),
    [(0.03, 1.8, 1.86), (0.04, 7.7, 7.75), (0.05, 16, 15.78), (0.06, 24, 23.92)],
)
def test_how_often_a_third_specimen_is_called_for(cv: float, held: float, exact: float) -> None:
    # derived: with the mean held at 1 it is 2 (1 - Phi(0.1 / (sqrt2 cv))); the pair's own mean adds a little
    mean_held = 100 * math.erfc(0.1 / (2 * cv))
    assert float(f"{mean_held:.2g}") == held
    assert 100 * third_break_probability(cv) == pytest.approx(exact, abs=0.005)
    assert mean_held < exact < mean_held + 0.07


def test_the_third_specimen_against_drawn_pairs() -> None:
    # 200,000 pairs, seeded; within four standard errors: false alarm 1 in 16,000.
    rng = np.random.default_rng(5)
    first, second = rng.normal(1.0, 0.05, size=(2, 200_000))
    share = np.mean(np.abs(first - second) > 0.1 * (first + second) / 2)
    expected = third_break_probability(0.05)
    assert abs(share - expected) < 4 * math.sqrt(expected * (1 - expected) / 200_000)


def test_scatter_outside_its_range_is_refused() -> None:
    assert third_break_probability(0.0) == 0.0
    with pytest.raises(ValueError, match=r"from 0 to below 100 %, given -0\.1"):
        third_break_probability(-0.1)
    with pytest.raises(ValueError, match="given 4"):
        third_break_probability(4.0)
