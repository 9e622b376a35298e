"""When the plan of a batch that is being broken is left: losses by hand, one rule at a time."""

from __future__ import annotations

import numpy as np
import pytest

from planner.choices import choice_set
from planner.verdict.answers.continuing.rescored import Decision, Rescored

AGES_H = np.array([4.0, 8.0, 24.0, 72.0])
SCHEDULES = [([0, 1], [2, 2]), ([0, 2], [2, 2]), ([0, 1, 2], [2, 2, 1]), ([0, 1, 2], [2, 2, 2])]
ALIKE = np.full(4, 0.25)
LIKE_FIRST = np.array([0.7, 0.1, 0.1, 0.1])


def table(*rms: list[float], planned: int = 0, immaterial: float = 0.0025) -> Rescored:
    """Root losses of each schedule in four batches; levels are the same, specimens alone give next to nothing."""
    loss = np.array(rms) ** 2
    return Rescored(
        choices=choice_set(AGES_H, SCHEDULES[: len(rms)]),
        loss=loss,
        level=loss,
        variance=np.full_like(loss, 1e-6),
        planned=planned,
        immaterial=immaterial,
    )


def test_breaks_that_tell_nothing_change_nothing() -> None:
    """Even where another schedule is better: that was known before, and the plan was chosen all the same."""
    assert table([0.05] * 4, [0.02] * 4).decide(ALIKE) == Decision("go on", 0)
    assert table([0.05] * 4, [0.02] * 4).decide(LIKE_FIRST) == Decision("go on", 0)


def test_later_breaks_are_moved_for_a_gain_that_the_first_breaks_bring() -> None:
    """The other schedule is better in the first batch alone, and worse in the others by as much."""
    found = table([0.06, 0.04, 0.04, 0.04], [0.02, 0.05, 0.05, 0.05])
    assert found.decide(ALIKE) == Decision("go on", 0)
    assert found.decide(np.array([0.97, 0.01, 0.01, 0.01])) == Decision("move", 1)
    # root means .0598 and .0207: a gain of .039, and one of less than .04 is immaterial here
    large = table([0.06, 0.04, 0.04, 0.04], [0.02, 0.05, 0.05, 0.05], immaterial=0.04)
    assert large.decide(np.array([0.97, 0.01, 0.01, 0.01])) == Decision("go on", 0)


def test_a_gain_within_its_standard_error_moves_nothing() -> None:
    """Weight on two batches that speak against each other."""
    found = table([0.09, 0.02, 0.05, 0.05], [0.02, 0.08, 0.06, 0.06])
    weights = np.array([0.6, 0.4, 0.0, 0.0])
    difference = np.array([0.09**2 - 0.02**2, 0.02**2 - 0.08**2])
    mean = difference @ [0.6, 0.4]
    error = np.sqrt([0.6, 0.4] @ (difference - mean) ** 2) * np.sqrt(0.6**2 + 0.4**2)
    assert 0 < mean < error
    assert found.decide(weights) == Decision("go on", 0)


def test_specimens_are_added_only_where_the_plan_reads_worse_than_stated() -> None:
    """The third and fourth schedule read better everywhere; as few specimens as bring the stated error back."""
    worse = table([0.10, 0.03, 0.03, 0.03], [0.10, 0.03, 0.03, 0.03], [0.055, 0.03, 0.03, 0.03], [0.02] * 4)
    # stated: root of the mean .1^2 and three of .03^2: .0563; with the weights .0854, with five specimens .0479
    assert worse.rms(0, ALIKE) == pytest.approx(np.sqrt((0.1**2 + 3 * 0.03**2) / 4))
    assert worse.decide(ALIKE) == Decision("go on", 0)
    assert worse.decide(LIKE_FIRST) == Decision("add", 2)
    better = table([0.03, 0.06, 0.06, 0.06], [0.03, 0.06, 0.06, 0.06], [0.02] * 4, [0.02] * 4)
    assert better.decide(LIKE_FIRST) == Decision("go on", 0)


def test_more_specimens_are_passed_over_until_they_suffice() -> None:
    found = table([0.10, 0.03, 0.03, 0.03], [0.10, 0.03, 0.03, 0.03], [0.09, 0.03, 0.03, 0.03], [0.02] * 4)
    assert found.decide(LIKE_FIRST) == Decision("add", 3)
    hopeless = table([0.10, 0.03, 0.03, 0.03], [0.10, 0.03, 0.03, 0.03], [0.09, 0.03, 0.03, 0.03], [0.09] * 4)
    assert hopeless.decide(LIKE_FIRST) == Decision("go on", 0)


def test_a_worse_level_within_chance_adds_nothing() -> None:
    """Weights hardly apart: the level rises by 1.64 or 1.65 standard deviations of what chance weights give."""
    level = np.array([0.10, 0.03, 0.03, 0.03]) ** 2
    toward = np.array([0.75, -0.25, -0.25, -0.25])
    # along the first batch apart @ level is sqrt(3) of what one standard deviation gives: always beyond chance
    assert toward @ level / (level.std() * np.sqrt(toward @ toward)) == pytest.approx(np.sqrt(4))
    across = np.array([0.2, -0.2, 0.15, -0.15])
    ratio = across @ level / (level.std() * np.sqrt(across @ across))
    assert ratio < 1.645
    rows = [[0.10, 0.03, 0.03, 0.03]] * 2 + [[0.02] * 4]
    assert table(*rows, immaterial=1e-6).decide(ALIKE + across) == Decision("go on", 0)
    assert table(*rows, immaterial=1e-6).decide(ALIKE + 0.3 * toward) == Decision("add", 2)


def test_error_is_never_below_what_the_specimens_give() -> None:
    floored = Rescored(
        choices=choice_set(AGES_H, SCHEDULES[:1]), loss=np.full((1, 2), 0.01), level=np.array([[-0.002, 0.001]]),
        variance=np.array([[0.0004, 0.0009]]), planned=0, immaterial=0.0025,
    )  # fmt: skip
    assert floored.rms(0, np.array([0.5, 0.5])) == pytest.approx(np.sqrt(0.00065))


def test_some_of_the_batches() -> None:
    found = table([0.06, 0.04, 0.04, 0.04], [0.02, 0.05, 0.05, 0.05]).only(np.array([0, 2]))
    assert found.loss.tolist() == [[0.06**2, 0.04**2], [0.02**2, 0.05**2]]
    assert found.rms(1, np.array([1.0, 0.0])) == pytest.approx(0.02)
