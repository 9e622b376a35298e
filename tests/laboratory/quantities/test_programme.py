"""Specimens, moulds and concrete of a whole calibration."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.laboratory.quantities.programme_totals import n_spares_for, third_break_probability, whole_programme
from planner.report.accounts.parts.programme_account import third_words
from planner.terms.plan.settings import ProgrammeSettings
from planner.terms.plan.third_specimen import third_specimen_rule
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
    assert count.expected_third_breaks == pytest.approx(6 * third_break_probability(0.04, 0.10))


def test_moulds_of_a_site_check_may_outnumber_those_of_a_trial_batch() -> None:
    programme = ProgrammeSettings(instrumented=0, companions_per_check=9, n_checks=1)
    assert whole_programme(SCHEDULE, programme, 0.04).n_moulds == 9
    assert whole_programme(SCHEDULE, programme, 0.04).litres is None
    never = ProgrammeSettings(instrumented=0, companions_per_check=9, n_checks=0)
    assert whole_programme(SCHEDULE, never, 0.04).n_moulds == 7


def test_scatter_may_differ_from_age_to_age() -> None:
    by_age = whole_programme(SCHEDULE, ProgrammeSettings(), (0.06, 0.05, 0.03))
    expected = third_break_probability(0.06, 0.10) + third_break_probability(0.03, 0.10)  # 24 h has three already
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
    assert 100 * third_break_probability(cv, 0.10) == pytest.approx(exact, abs=0.005)
    assert mean_held < exact < mean_held + 0.07


@pytest.mark.parametrize(
    ("geometry", "most_range", "source"),
    [
        ("cylinder 100x200 mm", 0.10, "ASTM C1074"),  # its own limit (memory)
        ("cylinder 6x12 in", 0.10, "ASTM C1074"),
        ("cube 150 mm", 2.8 * 0.032, "EN 12390-3"),  # acceptable range of two, 2.8 deviations (C670, memory)
        ("cube 100 mm", 2.8 * 0.032, "EN 12390-3"),
        ("cube 70 mm", 0.10, "common practice"),
        ("prism 100x100x400 mm", 0.10, "common practice"),
        ("", 0.10, "common practice"),
    ],
)
def test_the_third_specimen_is_ruled_by_the_standard_of_the_geometry(
    geometry: str, most_range: float, source: str
) -> None:
    rule = third_specimen_rule(geometry)
    assert rule.most_range == pytest.approx(most_range)
    assert rule.source.startswith(source) or source in rule.source
    assert ("C1074" in rule.source) == geometry.startswith("cylinder")


def test_cubes_are_counted_by_their_own_limit() -> None:
    pairs = whole_programme(Schedule((6.0,), (2,)), ProgrammeSettings(), 0.04, "cube 150 mm")
    # |difference| > .0896 of the mean: 2 (1 - Phi(.0896 / sqrt(2 x .0016 + .0896^2 x .0016 / 2))) = .1132
    assert pairs.expected_third_breaks == pytest.approx(math.erfc(0.0896 / (2 * 0.04)), abs=0.0005)
    assert "more than 9 % of their mean (acceptable range of two, EN 12390-3, from memory)" in third_words(pairs)


def test_the_third_specimen_against_drawn_pairs() -> None:
    # 200,000 pairs, seeded; within four standard errors: false alarm 1 in 16,000.
    rng = np.random.default_rng(5)
    first, second = rng.normal(1.0, 0.05, size=(2, 200_000))
    share = np.mean(np.abs(first - second) > 0.1 * (first + second) / 2)
    expected = third_break_probability(0.05, 0.10)
    assert abs(share - expected) < 4 * math.sqrt(expected * (1 - expected) / 200_000)


def test_scatter_outside_its_range_is_refused() -> None:
    assert third_break_probability(0.0, 0.10) == 0.0
    with pytest.raises(ValueError, match=r"from 0 to below 100 %, given -0\.1"):
        third_break_probability(-0.1, 0.10)
    with pytest.raises(ValueError, match="given 4"):
        third_break_probability(4.0, 0.10)
