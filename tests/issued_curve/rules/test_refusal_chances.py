"""Chances of a repeat, and expected costs, against programmes played out one by one through the acceptance rule."""

from __future__ import annotations

import numpy as np
import pytest

from planner.issued_curve.rules.acceptance import Verdict, accept, sound_refused_at_most
from planner.issued_curve.rules.companions import Companions
from planner.issued_curve.rules.refusal_chances import RefusalChances, refusal_chances
from planner.terms.plan.settings import Costs
from planner.verdict.answers.price.risk import scaled, share_bounds, spare_options, with_strangers

OWN, TOLERANCE, N = 0.045, 0.10, 3
CV = np.array([0.04, 0.03])
ERRORS = scaled(np.random.default_rng(11).normal(0.0, [0.05, 0.035], (8, 2)), OWN)
COSTS = Costs(currency="EUR", specimen=18, preparation=12, break_one=25, visit=90)
BATCH, ONCE = 1500.0, 310.0


def group(difference: float, n: int, target: int) -> Companions:
    return Companions(
        batch="trial", age_h=6.0 + target, maturity_h=6.0, read_mpa=20.0, broken_mpa=20.0 * (1.0 + difference),
        n_specimens=n, is_target=True, is_inside=True,
    )  # fmt: skip


def attempt(rng: np.random.Generator, n_groups: int, strangers: set[int]) -> tuple[bool, float]:
    """One trial batch cast and judged: whether its curve is issued, and what it cost. A stranger's never is."""
    batch = int(rng.integers(len(ERRORS)))
    is_issued, cost = judged(rng, n_groups, ERRORS[batch])
    return is_issued and batch not in strangers, cost


def judged(rng: np.random.Generator, n_groups: int, error: np.ndarray) -> tuple[bool, float]:
    first = error + rng.normal(0.0, CV / np.sqrt(N))
    cost = BATCH + n_groups * N * 18
    found = accept([group(d, N, t) for t, d in enumerate(first)], own_rms=OWN, within_test_cv=CV, tolerance=TOLERANCE)
    if found.verdict is Verdict.ISSUE:
        return True, cost
    wanted = {round(item.age_h - 6.0) for item in found.break_more}
    if found.verdict is not Verdict.BREAK_MORE or len(wanted) > n_groups:
        return False, cost
    cost += len(wanted) * N * (12 + 25) + 90
    again = error + rng.normal(0.0, CV / np.sqrt(N))
    merged = [group((d + again[t]) / 2, 2 * N, t) if t in wanted else group(d, N, t) for t, d in enumerate(first)]
    second = accept(merged, own_rms=OWN, within_test_cv=CV, tolerance=TOLERANCE)
    return second.verdict is Verdict.ISSUE, cost


@pytest.mark.parametrize(("n_groups", "strangers"), [(0, set()), (1, set()), (2, set()), (0, {2}), (2, {0, 5})])
def test_expected_costs_agree_with_ten_thousand_programmes(n_groups: int, strangers: set[int]) -> None:
    # Two trial batches each, seed 5. The mean of 10,000 has a standard error of about 0.4 %: 4 of them are 1.6 %, which
    # chance passes in 1 of 16,000. A trial batch that repeats too often or too rarely by a fifth shifts it by 2 %.
    rng = np.random.default_rng(5)
    totals, n_attempts, n_refused = [], 0, 0
    for _ in range(10_000):
        total = ONCE
        for _batch in range(2):
            is_issued = False
            while not is_issued:
                is_issued, cost = attempt(rng, n_groups, strangers)
                total += cost
                n_attempts += 1
                n_refused += not is_issued
        totals.append(total)
    chances = refusal_chances(ERRORS, own_rms=OWN, within_test_cv=CV, n_companions=N, tolerance=TOLERANCE)
    is_stranger = np.isin(np.arange(len(ERRORS)), list(strangers))
    repeated = with_strangers(chances, is_stranger).mean(axis=1)
    option = spare_options(chances, repeated, N, COSTS, n_batches=2, batch_cost=BATCH, once=ONCE)[n_groups]
    error = float(np.std(totals)) / 100.0
    assert option.n_spares == n_groups * N
    assert option.expected_cost == pytest.approx(np.mean(totals), abs=4.0 * error)
    share = n_refused / n_attempts
    assert option.chance_of_repeat == pytest.approx(share, abs=4.0 * np.sqrt(share / n_attempts) + 0.001)


def test_the_chance_keeps_the_stated_bound_of_a_sound_calibration() -> None:
    # Normal errors of exactly the stated size, the same at both targets: the sheet's upper bound must hold.
    errors = np.repeat(OWN * np.array([-1.5, -1.0, -0.6, -0.2, 0.2, 0.6, 1.0, 1.5])[:, None], 2, axis=1)
    chances = refusal_chances(errors, own_rms=OWN, within_test_cv=CV, n_companions=N, tolerance=TOLERANCE)
    bound = sound_refused_at_most(own_rms=OWN, scatter=float(np.sum(CV**2)) / N / 4, tolerance=TOLERANCE)
    assert 0.0 < chances.refused[0] <= bound
    assert np.all(np.diff(chances.refused) <= 0)


def test_bounds_of_whole_counts_are_those_of_the_tables() -> None:
    # Clopper & Pearson: no failure of 9 leaves 1 - 0.05^(1/9) = 28.3 %; 1 of 9 from 0.57 to 42.9 % (derived).
    lower, upper = share_bounds(np.zeros(9))
    assert (lower, upper) == (0.0, pytest.approx(1.0 - 0.05 ** (1.0 / 9.0)))
    lower, upper = share_bounds(np.r_[1.0, np.zeros(8)])
    assert lower == pytest.approx(1.0 - 0.95 ** (1.0 / 9.0))
    below = (1 - upper) ** 9 + 9 * upper * (1 - upper) ** 8
    assert below == pytest.approx(0.05)
    assert share_bounds(np.ones(4))[1] == 1.0


def test_without_prices_chances_are_told_and_no_money() -> None:
    chances = refusal_chances(ERRORS, own_rms=OWN, within_test_cv=CV, n_companions=N, tolerance=TOLERANCE)
    found = spare_options(chances, chances.refused, N, None, n_batches=1, batch_cost=None, once=0.0)
    assert [item.expected_cost for item in found] == [None, None, None]


def test_expected_cost_of_a_reserve_by_hand() -> None:
    # 3 in reserve: 3 x 18 made each time, 0.1 groups of 3 broken for 12 + 25 each, 0.08 visits of 90; one in five
    # is refused.
    chances = RefusalChances(
        refused=np.array([0.25, 0.2]), refused_by_batch=np.array([[0.25], [0.2]]), more=np.array([0.0, 0.08]),
        groups_broken=np.array([0.0, 0.1]),
    )  # fmt: skip
    without, reserve = spare_options(chances, chances.refused, N, COSTS, n_batches=2, batch_cost=BATCH, once=ONCE)
    assert without.expected_cost == pytest.approx(310 + 2 * 1500 / 0.75)
    assert reserve.expected_cost == pytest.approx(310 + 2 * (1500 + 54 + 0.3 * 37 + 7.2) / 0.8)
