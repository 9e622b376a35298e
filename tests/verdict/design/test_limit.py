"""The least variance against closed forms, all corners of the linear programme, and its other algorithm."""

from __future__ import annotations

import subprocess
import sys
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.verdict.design.least_variance import (
    LeastVariance,
    efficiency,
    least_mean_variance,
    least_variance,
    mean_variance,
)


def hyperbola(age_d: np.ndarray, k: float, offset_d: float | None = None) -> np.ndarray:
    """Derivatives of Su k t / (1 + k t) by Su, k and, if there is one, the offset, at Su = 1."""
    since = age_d - (offset_d or 0.0)
    columns = [k * since / (1 + k * since), since / (1 + k * since) ** 2]
    if offset_d is not None:
        columns.append(-k / (1 + k * since) ** 2)
    return np.stack(columns, axis=-1)


def exponential(age: np.ndarray) -> np.ndarray:
    """Derivatives of a exp(-b / x) by a and b at a = 1, b = 1500."""
    return np.stack([np.exp(-1500 / age), -np.exp(-1500 / age) / age], axis=-1)


def equal_shares(ages: np.ndarray, chosen: list[float]) -> np.ndarray:
    assert np.isin(chosen, ages).all()
    return np.isin(ages, chosen).astype(float)


def assert_places(limit: LeastVariance | None, ages: np.ndarray, expected: dict[float, float]) -> None:
    assert limit is not None
    assert limit.certified > 1 - 1e-9
    placed = {age: weight for age, weight in zip(ages, limit.weights, strict=True) if weight > 1e-9}
    assert list(placed) == pytest.approx(list(expected))
    assert list(placed.values()) == pytest.approx(list(expected.values()), abs=5e-5)


def grid(first: float, last: float, *more: float) -> np.ndarray:
    return np.unique(np.concatenate((np.linspace(first, last, 1001), more)))


# --- closed forms ---------------------------------------------------------------------------------


def test_hyperbola_in_a_week() -> None:
    # derived: the two ages at which a unit combination of the derivatives touches its bounds
    ages = grid(0.5, 7, 1.43176, 1, 2, 3, 5)
    sensitivity, gradient = hyperbola(ages, 0.25), hyperbola(np.array(28.0), 0.25)
    limit = least_variance(sensitivity, gradient, budget=1)
    assert_places(limit, ages, {1.43176: 0.485141, 7.0: 0.514859})
    for chosen, expected in (([1, 3, 7], 0.716366), ([1, 2, 3, 5, 7], 0.566916)):
        share = efficiency(equal_shares(ages, chosen), sensitivity, gradient, limit=limit)
        assert share == pytest.approx(expected, abs=2e-6)


def test_hyperbola_with_offset_in_a_week() -> None:
    # derived as above, three parameters
    ages = grid(0.5, 7, 2.350993, 1, 3)
    sensitivity, gradient = hyperbola(ages, 0.25, 0.2), hyperbola(np.array(28.0), 0.25, 0.2)
    limit = least_variance(sensitivity, gradient, budget=1)
    assert_places(limit, ages, {0.5: 0.135936, 2.350993: 0.416967, 7.0: 0.447097})
    share = efficiency(equal_shares(ages, [1, 3, 7]), sensitivity, gradient, limit=limit)
    assert share == pytest.approx(0.548904, abs=2e-6)


@pytest.mark.parametrize("last", [1.0, 4.0, 30.0])
def test_ages_for_the_rate_of_a_hyperbola(last: float) -> None:
    # V x / (K + x), K alone wanted: (sqrt 2 - 1) K xm / ((2 - sqrt 2) xm + K) and xm
    # Dette and Wong 1999; Elfving 1952
    half = 2.0
    early = (np.sqrt(2) - 1) * half * last / ((2 - np.sqrt(2)) * last + half)
    ages = grid(0.0, last, early)
    sensitivity = np.stack([ages / (half + ages), -ages / (half + ages) ** 2], axis=-1)
    limit = least_variance(sensitivity, np.array([0.0, 1.0]), budget=1)
    assert_places(limit, ages, {early: np.sqrt(0.5), last: 1 - np.sqrt(0.5)})


def test_exponential_for_its_ultimate_strength() -> None:
    # a exp(-b / x), b = 1500, [212, 422]: 310.378 (.7253), 422 (.2747); published, read
    ages = grid(212, 422, 310.378)
    limit = least_variance(exponential(ages), np.array([1.0, 0.0]), budget=1)
    assert_places(limit, ages, {310.378: 0.7253, 422.0: 0.2747})


def test_exponential_averaged_over_many_targets() -> None:
    # the same, variance averaged over [380, 422]: 357.518 (.4346), 422 (.5654); published, read.
    # Ages a percent apart near the optimum, since the steps leave its neighbours slowly
    ages = np.array([212.0, 250, 300, 340, 357.518, 375, 400, 422])
    nodes, model_weights = np.polynomial.legendre.leggauss(8)
    targets = exponential(401 + 21 * nodes)
    stacked = np.repeat(exponential(ages)[None], 8, axis=0)
    limit = least_mean_variance(stacked, targets, budget=1, model_weights=model_weights, wanted=0.999999)
    assert limit is not None
    assert limit.certified >= 0.999999
    assert limit.weights[[4, 7]] == pytest.approx([0.4346, 0.5654], abs=2e-4)
    # nor do any other ages of the window do better
    dense = np.unique(np.concatenate((ages, np.linspace(212, 422, 500))))
    found = np.repeat(exponential(dense)[None], 8, axis=0)
    best = least_mean_variance(found, targets, budget=1, model_weights=model_weights, wanted=0.999)
    assert best is not None
    assert best.bound <= limit.variance <= best.variance * (1 + 1e-6)


def test_target_dose() -> None:
    # Dette, Bretz, Pepelyshev and Pinheiro 2008, JASA 103:1225, Table 2 (points, weights, efficiency read):
    # effect d / (25 + d), [0, 150], the dose with .3 of the largest effect by offset, scale and 25. A published table,
    # because no Python package at hand finds such a design: pyoptex 1.2.1 has D-, A- and I-optimal exact designs of
    # linear models alone (its source read), and needs pandas below 3.
    doses = grid(0, 150, 18.75, 10, 25, 50, 100)
    sensitivity = np.stack([np.ones_like(doses), doses / (25 + doses), -doses / (25 + doses) ** 2], axis=-1)
    gradient = np.array([0.0, -0.3 * 25 / 0.7**2, 0.3 / 0.7])
    limit = least_variance(sensitivity, gradient, budget=1)
    assert_places(limit, doses, {0.0: 0.4423, 18.75: 0.5, 150.0: 0.0577})
    share = efficiency(equal_shares(doses, [0, 10, 25, 50, 100, 150]), sensitivity, gradient, limit=limit)
    assert share == pytest.approx(0.5099, abs=5e-5)


def test_a_single_parameter_takes_the_most_telling_age() -> None:
    limit = least_variance(np.array([[1.0], [4.0], [2.0]]), np.array([2.0]), budget=6)
    assert limit is not None
    assert limit.weights.tolist() == [0.0, 1.0, 0.0]
    assert limit.variance == pytest.approx((2 / 4) ** 2 / 6)


@pytest.mark.parametrize("offset_d", [None, 0.1])
@pytest.mark.parametrize("target", [0.5, 3.0, 7.0])
def test_constant_cv_and_a_free_scale_give_the_scatter_at_the_target(target: float, offset_d: float | None) -> None:
    # the target itself may be broken: no placement beats breaking everything there, rho = sigma* = .04 S*
    ages = np.array([0.25, 0.5, 1, 2, 3, 7])
    strength = 80 * hyperbola(ages, 0.7, offset_d)[:, 0]
    sensitivity = hyperbola(ages, 0.7, offset_d) * [1, 80, 80][: 2 + (offset_d is not None)]
    at_target = int(np.flatnonzero(ages == target)[0])
    gradient = sensitivity[at_target] / strength[at_target]
    limit = least_variance(sensitivity / (0.04 * strength)[:, None], gradient, budget=20)
    assert limit is not None
    assert limit.variance == pytest.approx(0.04**2 / 20, rel=1e-9)


# --- against other ways ---------------------------------------------------------------------------


def problems(seed: int, n_ages: int, n_parameters: int) -> tuple[np.ndarray, np.ndarray, np.random.Generator]:
    generator = np.random.default_rng(seed)
    return generator.normal(size=(n_ages, n_parameters)), generator.normal(size=n_parameters), generator


def corner_by_corner(sensitivity: np.ndarray, gradient: np.ndarray) -> float:
    """Least rho^2 over all sets of as many ages as parameters, the corners of the linear programme."""
    n_parameters = gradient.size
    sums = [
        np.abs(np.linalg.solve(sensitivity[list(ages)].T, gradient)).sum()
        for ages in combinations(range(sensitivity.shape[0]), n_parameters)
    ]
    return float(min(sums) ** 2)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 3), st.integers(0, 5))
def test_programme_equals_brute_force(seed: int, n_parameters: int, n_more: int) -> None:
    sensitivity, gradient, _ = problems(seed, n_parameters + n_more, n_parameters)
    limit = least_variance(sensitivity, gradient, budget=3)
    assert limit is not None
    assert limit.variance == pytest.approx(corner_by_corner(sensitivity, gradient) / 3, rel=1e-7)
    assert limit.certified > 1 - 1e-7
    assert limit.weights.sum() == pytest.approx(1.0)
    # and the weights have the variance that they are said to have
    own = mean_variance(limit.weights, sensitivity, gradient, budget=3)
    assert own == pytest.approx(limit.variance, rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 3), st.integers(0, 5))
def test_both_algorithms_agree_on_one_batch(seed: int, n_parameters: int, n_more: int) -> None:
    sensitivity, gradient, _ = problems(seed, n_parameters + n_more, n_parameters)
    limit = least_variance(sensitivity, gradient, budget=3)
    stepped = least_mean_variance(sensitivity[None], gradient[None], budget=3, wanted=0.999)
    assert limit is not None
    assert stepped is not None
    # what the steps prove lies below the optimum, what they found above
    assert stepped.bound <= limit.variance * (1 + 1e-7)
    assert stepped.variance >= limit.variance * (1 - 1e-7)
    assert stepped.certified >= 0.999 * (1 - 1e-9)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 3), st.integers(1, 4), st.integers(1, 4))
def test_no_placement_beats_the_limit(seed: int, n_parameters: int, n_batches: int, n_more: int) -> None:
    generator = np.random.default_rng(seed)
    n_ages = n_parameters + n_more
    sensitivities = generator.normal(size=(n_batches, n_ages, n_parameters))
    gradients = generator.normal(size=(n_batches, n_parameters))
    model_weights = generator.uniform(0.1, 1, n_batches)
    limit = least_mean_variance(sensitivities, gradients, budget=2, model_weights=model_weights, wanted=0.99)
    assert limit is not None
    for _ in range(5):
        weights = generator.dirichlet(np.full(n_ages, 0.7))
        own = mean_variance(weights, sensitivities, gradients, budget=2, model_weights=model_weights)
        assert own >= limit.bound * (1 - 1e-9)
        share = efficiency(weights, sensitivities, gradients, limit=limit, model_weights=model_weights)
        assert share == pytest.approx(limit.bound / own, rel=1e-9)


def test_mean_variance_is_the_textbook_formula() -> None:
    sensitivity, gradient, generator = problems(3, 6, 3)
    weights = generator.uniform(0.1, 1, 6)
    information = sensitivity.T @ np.diag(weights / weights.sum()) @ sensitivity
    expected = gradient @ np.linalg.inv(information) @ gradient / 10
    assert mean_variance(weights, sensitivity, gradient, budget=10) == pytest.approx(expected, rel=1e-10)


def test_units_of_parameters_change_nothing() -> None:
    sensitivity, gradient, _ = problems(4, 6, 3)
    scale = np.array([1e-6, 1.0, 1e7])
    plain = least_variance(sensitivity, gradient, budget=1)
    scaled = least_variance(sensitivity * scale, gradient * scale, budget=1)
    assert plain is not None
    assert scaled is not None
    assert scaled.variance == pytest.approx(plain.variance, rel=1e-9)


# --- what cannot be found -------------------------------------------------------------------------


def test_a_target_that_no_age_tells_has_no_limit() -> None:
    # two parameters that only ever act as their sum, and a target that asks for one of them
    found = np.array([[1.0, 1.0], [2.0, 2.0], [5.0, 5.0]])
    assert least_variance(found, np.array([1.0, 0.0]), budget=1) is None
    assert least_mean_variance(found[None], np.array([[1.0, 0.0]]), budget=1) is None
    assert mean_variance(np.ones(3), found, np.array([1.0, 0.0]), budget=1) == np.inf
    # nearly so is no better
    found[0, 1] += 1e-13
    assert least_variance(found, np.array([1.0, 0.0]), budget=1) is None
    found[0, 1] = 1.0
    # asked for the sum there is no difficulty
    limit = least_variance(found, np.array([3.0, 3.0]), budget=1)
    assert limit is not None
    assert limit.variance == pytest.approx(0.36)


def test_batches_with_fewer_directions_stand_beside_others() -> None:
    found = np.array([[[1.0, 1.0], [2.0, 2.0]], [[1.0, 0.0], [0.0, 1.0]]])
    limit = least_mean_variance(found, np.array([[2.0, 2.0], [0.0, 1.0]]), budget=1, wanted=0.99999)
    assert limit is not None
    # age 2 alone serves both: (1 + 1) / 2
    assert limit.variance == pytest.approx(1.0, rel=1e-4)
    assert limit.weights[1] == pytest.approx(1.0, abs=1e-4)


def test_a_schedule_that_cannot_tell_has_no_efficiency() -> None:
    sensitivity, gradient, _ = problems(5, 5, 2)
    limit = least_variance(sensitivity, gradient, budget=1)
    assert limit is not None
    assert efficiency(np.array([1.0, 0, 0, 0, 0]), sensitivity, gradient, limit=limit) == 0.0


def test_what_cannot_be_asked() -> None:
    found, aim = np.eye(2), np.ones(2)
    with pytest.raises(ValueError, match=r"given \(2, 2\) and \(3,\)"):
        least_variance(found, np.ones(3), budget=1)
    with pytest.raises(ValueError, match="must be finite; the budget must be above 0, given 0"):
        least_variance(found * np.nan, aim, budget=0)
    with pytest.raises(ValueError, match="a gradient is all zero"):
        least_variance(found, 0 * aim, budget=1)
    with pytest.raises(ValueError, match=r"2 weights above 0 are needed, given \[1.0, -1.0\]"):
        mean_variance(np.array([1.0, -1.0]), found, aim, budget=1)
    with pytest.raises(ValueError, match="1 weights above 0 are needed"):
        least_mean_variance(found[None], aim[None], budget=1, model_weights=np.zeros(1))


def test_importing_the_pure_functions_stays_cheap() -> None:
    rooms = ", ".join(
        f"planner.verdict.{name}"
        for name in (
            "statistics.tolerance_bounds",
            "statistics.coverage_bounds",
            "statistics.sign_flip",
            "design.least_variance",
        )
    )
    script = f"import sys, {rooms}; print(sorted({{'scipy', 'numba', 'pandas'}} & set(sys.modules)))"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert loaded.stdout.strip() == "[]"
