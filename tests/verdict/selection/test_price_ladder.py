"""Which programmes of a ladder tie with the best, over losses written by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.resampling.errors.later_pours.judged_programmes import ByUnit, Programmes
from planner.verdict.selection.programmes.price_ladder import Ladder, tied_with
from planner.verdict.selection.programmes.programme import Wanted

BEST, CHEAPER = 0, 1
WANTED = Wanted(judged_on="later pour", tolerance=0.10, assurance=0.90, immaterial=0.0025)


def ladder_of(steps: list[float], *, cheaper_rms: float = 0.104, highest: float = 0.0) -> Ladder:
    """Two rungs, the best at 10 %; the cheaper one's loss lies above the best's by these steps, unit by unit."""
    loss = np.array([np.full(len(steps), 0.010), 0.010 + np.array(steps)])[:, None, :]
    rms = np.array([[0.10], [cheaper_rms]], dtype=np.float32)
    nothing = np.zeros_like(loss)
    over = nothing.copy()
    over[CHEAPER] = highest
    return Ladder(
        which=np.arange(2), joint=np.zeros(2, dtype=np.int64), loss=loss.mean(axis=(1, 2)),
        judged=Programmes(trial_batches=(1,), rms=rms, within_tolerance=rms, over_beyond=rms, worst=rms),
        by_unit=ByUnit(loss=loss, level=loss, variance=nothing, highest=over), is_allowed=np.ones((2, 1), dtype=bool),
    )  # fmt: skip


def is_tied(ladder: Ladder) -> bool:
    tied = tied_with(ladder, (BEST, 0), WANTED)
    assert tied[BEST, 0]
    return bool(tied[CHEAPER, 0])


@pytest.mark.parametrize(("n_units", "found"), [(4, False), (5, True)])
def test_one_standard_error_ties_from_five_units_on(n_units: int, found: bool) -> None:
    steps = [0.004, *[-0.0005] * (n_units - 1)]  # mean .0006 and standard error .0011 of four, .0004 and .0009 of five
    assert is_tied(ladder_of(steps)) is found


def test_what_is_immaterial_ties_whatever_the_number_of_units() -> None:
    behind = [0.001, 0.0011, 0.0009]  # far beyond one standard error
    assert is_tied(ladder_of(behind, cheaper_rms=0.1024))
    assert not is_tied(ladder_of(behind, cheaper_rms=0.1026))


def test_differences_beyond_one_standard_error_are_told() -> None:
    assert not is_tied(ladder_of([0.001, 0.0011, 0.0009, 0.0010, 0.0012]))


@pytest.mark.parametrize(("rms", "tied"), [(0.1099, True), (0.1101, False)])
def test_nothing_ties_more_than_a_tenth_above_the_best(rms: float, tied: bool) -> None:
    assert is_tied(ladder_of([0.004, -0.0005, -0.0005, -0.0005, -0.0005], cheaper_rms=rms)) is tied


def test_nothing_ties_that_over_predicts_a_batch_where_the_best_does_not() -> None:
    steps = [0.004, -0.0005, -0.0005, -0.0005, -0.0005]
    assert is_tied(ladder_of(steps, highest=0.1020))  # within what is immaterial of the tolerance
    assert not is_tied(ladder_of(steps, highest=0.1030))


@pytest.mark.parametrize(("lead", "found"), [(0.475, True), (0.525, False)])
def test_the_standard_error_of_five_has_four_degrees_of_freedom(lead: float, found: bool) -> None:
    # Differences 2, -.5 four times about their mean: squares 5, standard error sqrt(5 / 4 / 5) = .5, of a thousandth.
    steps = [0.001 * (lead + step) for step in (2.0, -0.5, -0.5, -0.5, -0.5)]
    assert is_tied(ladder_of(steps)) is found
