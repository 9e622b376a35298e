"""Chances of an alarm against simulated sequences that share no code with them."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest

from planner.issued_curve.rules.alarm_chain import mean_run_length, survivals
from planner.issued_curve.rules.alarm_chances import alarm_chances, chance_within, checks_to_find, shared_part
from tests.statistics.alarm_sequences import CHECKS, N_SEQUENCES, simulated, stated

WIDE = 4.2  # binomial standard errors: 26 comparisons fail together in less than 1 run of 1,000


@pytest.mark.slow
@pytest.mark.parametrize("drop", [0.0, 1.0], ids=["sound", "one deviation weaker"])
@pytest.mark.parametrize("n_curves", [1, 2, 3])
def test_chances_equal_simulated_ones(n_curves: int, drop: float) -> None:
    # seeds 11 to 14 and so on; see WIDE for the chance of a false alarm
    expected = simulated(n_curves, drop, seed=10 * n_curves + int(drop) + 1)
    for chance, share in zip(stated(n_curves, drop), expected, strict=True):
        assert share == pytest.approx(chance, abs=WIDE * np.sqrt(chance * (1 - chance) / N_SEQUENCES))


@pytest.mark.slow
@pytest.mark.parametrize("drop", [0.0, 1.0], ids=["sound", "one deviation weaker"])
def test_independent_checks_equal_simulated_ones(drop: float) -> None:
    # seeds 5 and 6; see WIDE for the chance of a false alarm
    expected = simulated(None, drop, seed=5 + int(drop))
    for n, share in zip(CHECKS, expected, strict=True):
        chance = chance_within(n, shared=0.0, drop=drop)
        assert share == pytest.approx(chance, abs=WIDE * np.sqrt(chance * (1 - chance) / N_SEQUENCES) + 1e-4)


def test_chance_of_first_checks_is_known_by_hand() -> None:
    # one check: CUSUM over 4 needs z below -4.5; two checks: also both low, Phi(-1.645) = .05
    beyond = 3.397673124730062e-06  # Phi(-4.5), table of the normal law
    assert chance_within(1, shared=0.0) == pytest.approx(beyond, abs=1e-9)
    # both low, or one beyond the limit alone, or two that add up to more than 5: .0025 plus less than .0005
    assert 0.05**2 < chance_within(2, shared=0.0) < 0.05**2 + 5e-4


@pytest.mark.parametrize("drop", [0.0, 1.0], ids=["sound", "one deviation weaker"])
def test_mean_run_length_equals_simulated_one(drop: float) -> None:
    # 4,000 sequences, seeds 7 and 8; four standard errors: a false alarm in 1 of 16,000 runs
    rng = np.random.default_rng(7 + int(drop))
    total, was_low = np.zeros(N_SEQUENCES), np.zeros(N_SEQUENCES, dtype=bool)
    length, is_running = np.zeros(N_SEQUENCES), np.ones(N_SEQUENCES, dtype=bool)
    while is_running.any():
        length += is_running
        z = rng.standard_normal(N_SEQUENCES) - drop
        total = np.maximum(0.0, total - z - 0.5)
        is_low = z < -1.645
        is_running &= ~((total > 4.0) | (is_low & was_low))
        was_low = is_low
    error = length.std() / np.sqrt(N_SEQUENCES)
    assert mean_run_length(shift=drop) == pytest.approx(length.mean(), abs=4 * error)


def test_mean_run_length_is_the_sum_of_survivors() -> None:
    assert mean_run_length(shift=1.5) == pytest.approx(
        1.0 + sum(one[0] for one in survivals(79, shifts=np.array([1.5]), scale=1.0))
    )


@pytest.mark.parametrize("drop", [0.7, 1.5, 4.0])
def test_checks_to_find_a_drop_are_the_fewest_that_find_it(drop: float) -> None:
    found = checks_to_find(drop)
    assert found is not None
    assert chance_within(found, shared=0.0, drop=drop) >= 0.9
    assert found == 1 or chance_within(found - 1, shared=0.0, drop=drop) < 0.9


def test_more_trial_batches_share_less() -> None:
    shared = [shared_part(later_rms=0.1, n_curves=m, within_test_cv=0.0, n_companions=3) for m in (1, 2, 3)]
    assert shared == pytest.approx([1 / 2, 1 / 3, 1 / 4])
    # 3 companions of 10 %: variance .01 + .01 / 3, of which .005 is shared
    assert shared_part(later_rms=0.1, n_curves=1, within_test_cv=0.1, n_companions=3) == pytest.approx(0.005 / 0.04 * 3)


def test_a_sound_curve_of_one_trial_batch_alarms_more_often_at_first() -> None:
    # derived by simulation: 20 % within 20 checks where half the variance is shared, 7 % where none is
    assert chance_within(20, shared=0.5) == pytest.approx(0.205, abs=0.005)
    assert chance_within(20, shared=0.0) == pytest.approx(0.074, abs=0.005)


def test_chances_are_gathered_for_sound_and_weaker_concrete() -> None:
    found = alarm_chances(shared=0.5)
    assert found.n_checks == (20, 40, 300)
    assert found.sound == tuple(chance_within(n, shared=0.5) for n in (20, 40, 300))
    assert found.dropped == tuple(chance_within(n, shared=0.5, drop=1.0) for n in (20, 40, 300))
    assert all(weaker > sound for weaker, sound in zip(found.dropped, found.sound, strict=True))
    assert found.mean_to_find_drop < found.mean_to_false_alarm


def test_chances_are_the_same_whatever_the_number_of_threads() -> None:
    code = "from planner.issued_curve.rules.alarm_chances import alarm_chances; print(alarm_chances(shared=0.48))"
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "OPENBLAS_NUM_THREADS": str(n)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for n in (1, 2, 3)
    }
    assert len(found) == 1


@pytest.mark.parametrize("shared", [-0.1, 1.0, float("nan")])
def test_impossible_shared_part_is_refused(shared: float) -> None:
    with pytest.raises(ValueError, match="shared part of the variance must be from 0"):
        alarm_chances(shared=shared)


def test_no_checks_are_refused() -> None:
    with pytest.raises(ValueError, match="must be 1 or more"):
        alarm_chances(shared=0.5, n_checks=(0, 20))


@pytest.mark.parametrize("wrong", [{"later_rms": 0.0}, {"n_curves": 0}, {"within_test_cv": -0.1}, {"n_companions": 0}])
def test_impossible_checks_are_refused(wrong: dict[str, float]) -> None:
    given = {"later_rms": 0.1, "n_curves": 1, "within_test_cv": 0.03, "n_companions": 3} | wrong
    with pytest.raises(ValueError, match="later-pour error above 0"):
        shared_part(**given)  # type: ignore[arg-type]
