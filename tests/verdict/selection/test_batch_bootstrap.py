"""The choosing rule in all worlds against a plain twin, by hand, and exact against drawn."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import product
from math import comb, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.resampling.search.dominance import undominated
from planner.verdict.selection.tie_rule import apply_rule, bootstrap_rule, tied
from planner.verdict.statistics.bootstrap_weights import bootstrap_weights, leave_one_out_counts


def plain_rule(loss, variance, over, rank, counts, level=None):
    """The rule in plain Python for one world: the training batches written out one by one."""
    training = [batch for batch, count in enumerate(counts) for _ in range(count)]
    choices = range(len(loss))

    def mean(rows, choice):
        return sum(rows[choice][batch] for batch in training) / len(training)

    best = min(choices, key=lambda choice: (mean(loss, choice), rank[choice]))
    square = mean(loss, best) if level is None else max(mean(level, best), mean(variance, best))
    within = []
    for choice in choices:
        steps = [loss[choice][batch] - loss[best][batch] for batch in training]
        middle = sum(steps) / len(steps)
        spread = 0.0
        if len(steps) > 1:
            spread = sqrt(sum((step - middle) ** 2 for step in steps) / (len(steps) - 1))
        if (
            middle <= spread / sqrt(len(steps))
            and middle <= 0.21 * square
            and mean(variance, choice) <= 1.21 * mean(variance, best)
            and not any(over[choice][batch] and not over[best][batch] for batch in training)
        ):
            within.append(choice)
    cheapest = min(within, key=lambda choice: (rank[choice], mean(loss, choice)))
    return best, cheapest, within


def programme(generator: np.random.Generator, n_choices: int, n_batches: int):
    """A random small programme in which ties are common."""
    shared = generator.normal(0.0, 0.02, n_batches)
    errors = shared + generator.normal(0.0, 0.01, (n_choices, n_batches))
    variance = generator.uniform(0.0003, 0.0004, (n_choices, n_batches))
    loss = errors**2 + 2 * variance
    return loss, variance, errors > 0.03, generator.permutation(n_choices)


@pytest.mark.parametrize(("n_batches", "n_worlds"), [(2, 2), (3, 9), (5, 125), (8, 6_434), (9, 24_309), (10, 92_377)])
def test_every_world_is_there_once(n_batches: int, n_worlds: int) -> None:
    counts, probability = bootstrap_weights(n_batches)
    assert counts.shape == (n_worlds, n_batches)
    assert n_worlds == comb(2 * n_batches - 1, n_batches) - 1
    assert np.unique(counts, axis=0).shape[0] == n_worlds
    assert (counts.sum(axis=1) == n_batches).all()
    assert (counts.min(axis=1) == 0).all()
    assert probability.sum() == pytest.approx(1.0, abs=1e-12)


def test_probabilities_equal_all_equally_likely_draws() -> None:
    drawn = Counter(tuple(draw.count(batch) for batch in range(4)) for draw in product(range(4), repeat=4))
    del drawn[1, 1, 1, 1]
    counts, probability = bootstrap_weights(4)
    expected = [float(Fraction(drawn[tuple(row)], 4**4 - 24)) for row in counts.tolist()]
    np.testing.assert_allclose(probability, expected, rtol=1e-13)


def test_beyond_ten_batches_worlds_are_drawn_with_a_seed() -> None:
    counts, probability = bootstrap_weights(11, seed=5)
    assert counts.shape == (4_000, 11)
    assert (counts.sum(axis=1) == 11).all()
    assert (counts.min(axis=1) == 0).all()
    np.testing.assert_allclose(probability, 1 / 4_000)
    np.testing.assert_array_equal(counts, bootstrap_weights(11, seed=5)[0])
    assert not np.array_equal(counts, bootstrap_weights(11, seed=6)[0])


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 9), st.integers(2, 5), st.booleans(), st.booleans())
def test_rule_equals_its_plain_twin(
    seed: int, n_choices: int, n_batches: int, has_equals: bool, has_level: bool
) -> None:
    generator = np.random.default_rng(seed)
    loss, variance, over, rank = programme(generator, n_choices, n_batches)
    counts = np.concatenate(
        (bootstrap_weights(n_batches)[0], leave_one_out_counts(n_batches), np.ones((1, n_batches), np.int64))
    )
    if has_equals:
        rank = rank // 3
    level = loss - variance - generator.uniform(0.0, 0.0008, loss.shape) if has_level else None
    best, chosen = apply_rule(loss, variance, over, rank, counts, level=level)
    levels = None if level is None else level.tolist()
    expected = [plain_rule(loss.tolist(), variance.tolist(), over, rank, row, levels) for row in counts.tolist()]
    assert list(zip(best.tolist(), chosen.tolist(), strict=True)) == [world[:2] for world in expected]
    full_best, _, full_tied = expected[-1]
    assert np.flatnonzero(tied(loss, variance, over, full_best, level=level)).tolist() == full_tied


ONE_WORLD = np.ones((1, 4), dtype=np.int64)
FLAT = np.full((2, 4), 1.0)
BEST = [1.0, 1.0, 1.0, 1.0]
NONE_OVER = np.zeros((2, 4), dtype=bool)


@pytest.mark.parametrize(
    ("cheaper", "variance", "over", "chosen"),
    [
        ([1.3, 0.9, 1.0, 0.9], FLAT, NONE_OVER, 1),  # mean .025 <= sd .189 / 2
        ([1.1, 1.1, 1.1, 1.1], FLAT, NONE_OVER, 0),  # worse without any scatter
        ([2.0, 0.9, 1.0, 1.0], FLAT, NONE_OVER, 0),  # one catastrophe: 1.225 is above the cap of 1.21
        ([1.93, 0.9, 1.0, 1.0], FLAT, NONE_OVER, 1),  # 1.2075 is below
        ([1.3, 0.9, 1.0, 0.9], FLAT * [[1.0], [1.22]], NONE_OVER, 0),  # too much variance
        ([1.3, 0.9, 1.0, 0.9], FLAT * [[1.0], [1.20]], NONE_OVER, 1),
        ([1.3, 0.9, 1.0, 0.9], FLAT, np.array([[0] * 4, [0, 0, 1, 0]], dtype=bool), 0),  # dangerous there
        ([1.3, 0.9, 1.0, 0.9], FLAT, np.array([[0, 0, 1, 0]] * 2, dtype=bool), 1),  # so is the best
        ([1.0, 1.0, 1.0, 1.0], FLAT, NONE_OVER, 1),  # equals: the cheaper
    ],
)
def test_ties_by_hand(cheaper: list[float], variance: np.ndarray, over: np.ndarray, chosen: int) -> None:
    _, picked = apply_rule(np.array([BEST, cheaper]), variance, over, np.array([7, 3]), ONE_WORLD)
    assert picked.tolist() == [chosen]


@pytest.mark.parametrize(
    ("level", "variance", "is_tied"),
    [
        # Behind by 0.05 on average, well within scatter; the mean loss of 1 alone would let 0.21 through.
        (0.25, 0.1, True),  # 0.21 x 0.25 = 0.0525
        (0.23, 0.1, False),  # 0.0483
        (-0.5, 0.25, True),  # the level is floored at the variance
        (-0.5, 0.23, False),
    ],
)
def test_a_lead_is_capped_by_the_true_square(level: float, variance: float, is_tied: bool) -> None:
    loss = np.array([BEST, [1.4, 0.8, 1.2, 0.8]])
    levels, variances = np.full((2, 4), level), np.full((2, 4), variance)
    _, picked = apply_rule(loss, variances, NONE_OVER, np.array([7, 3]), ONE_WORLD, level=levels)
    assert picked.tolist() == [int(is_tied)]
    assert tied(loss, variances, NONE_OVER, 0, level=levels).tolist() == [True, is_tied]


def test_rule_does_not_look_at_what_is_left_out() -> None:
    generator = np.random.default_rng(1)
    loss, variance, over, rank = programme(generator, 30, 6)
    counts = leave_one_out_counts(6)
    best, chosen = apply_rule(loss, variance, over, rank, counts, level=loss - variance)
    for fold in range(6):
        changed = [loss.copy(), variance.copy(), over.copy()]
        level = loss - variance
        level[:, fold] = generator.uniform(-1, 1, 30)
        changed[0][:, fold] = generator.uniform(0, 1, 30)
        changed[1][:, fold] = generator.uniform(0, 1, 30)
        changed[2][:, fold] = generator.uniform(0, 1, 30) > 0.5
        again_best, again_chosen = apply_rule(*changed, rank, counts[fold : fold + 1], level=level)
        assert (again_best[0], again_chosen[0]) == (best[fold], chosen[fold])


def test_order_of_choices_and_split_of_worlds_change_nothing() -> None:
    loss, variance, over, rank = programme(np.random.default_rng(2), 40, 6)
    counts, _ = bootstrap_weights(6)
    best, chosen = apply_rule(loss, variance, over, rank, counts)
    turned = np.random.default_rng(3).permutation(40)
    other_best, other_chosen = apply_rule(loss[turned], variance[turned], over[turned], rank[turned], counts)
    np.testing.assert_array_equal(turned[other_best], best)
    np.testing.assert_array_equal(turned[other_chosen], chosen)
    halves = [apply_rule(loss, variance, over, rank, half)[1] for half in (counts[:100], counts[100:])]
    np.testing.assert_array_equal(np.concatenate(halves), chosen)


def test_bootstrap_by_hand() -> None:
    # worlds (2,0) and (0,2), half each; one training batch twice, so the better choice there wins:
    # choice 0 in batch 0, judged in batch 1; choice 1 in batch 1, judged in batch 0
    loss = np.array([[1.0, 4.0], [3.0, 2.0]])
    level = np.array([[0.5, 7.0], [5.0, -1.0]])
    over = np.zeros((2, 2), dtype=bool)
    counts, probability = bootstrap_weights(2)
    verdict = bootstrap_rule(
        loss, np.ones((2, 2)), level, over, np.array([0, 1]), counts=counts, probability=probability
    )
    assert verdict.mean_square == verdict.best_mean_square == pytest.approx((7.0 + 5.0) / 2)
    np.testing.assert_allclose(verdict.inclusion, [0.5, 0.5])
    assert verdict.n_worlds == 2


def test_one_choice_is_judged_by_its_own_mean() -> None:
    level = np.array([[0.3, -0.1, 0.4, 0.7, 0.1]])
    counts, probability = bootstrap_weights(5)
    ones = np.ones((1, 5))
    verdict = bootstrap_rule(ones, ones, level, ones > 2, np.array([0]), counts=counts, probability=probability)
    assert verdict.mean_square == pytest.approx(level.mean(), abs=1e-12)  # by symmetry between batches
    assert verdict.inclusion.tolist() == pytest.approx([1.0])


def test_exact_equals_drawn() -> None:
    loss, variance, over, rank = programme(np.random.default_rng(4), 25, 7)
    level = loss - 1.5 * variance
    counts, probability = bootstrap_weights(7)
    exact = bootstrap_rule(loss, variance, level, over, rank, counts=counts, probability=probability)
    # 40,000 worlds drawn with seed 8; beyond 5 standard errors once in 2e6 seeds, each of the two figures
    generator = np.random.default_rng(8)
    drawn = generator.multinomial(7, np.full(7, 1 / 7), size=40_000).astype(np.int64)
    drawn = drawn[(drawn == 0).any(axis=1)]
    _, chosen = apply_rule(loss, variance, over, rank, drawn)
    held_out = np.array([level[pick, row == 0].mean() for pick, row in zip(chosen, drawn, strict=True)])
    error = held_out.std(ddof=1) / sqrt(held_out.size)
    assert abs(held_out.mean() - exact.mean_square) < 5 * error
    most = int(np.argmax(exact.inclusion))
    share = exact.inclusion[most]
    assert 0.1 < share < 0.9
    assert abs(np.mean(chosen == most) - share) < 5 * sqrt(share * (1 - share) / held_out.size)
    assert exact.inclusion.sum() == pytest.approx(1.0)
    assert exact.best_inclusion.sum() == pytest.approx(1.0)


def test_the_winner_of_many_equals_is_not_believed() -> None:
    # 200 choices of the same true loss 1, 12 programmes (seed 9): the winner shows far less, the bootstrap does not.
    # One programme's bootstrap error is 1.03 with a deviation of .30 (40 other seeds), the mean of 12 of .086: beyond
    # .30 a false alarm in 1 of 2,000 runs.
    loss = np.random.default_rng(9).chisquare(1, (12, 200, 6))
    counts, probability = bootstrap_weights(6)
    of_all = {"counts": counts, "probability": probability}
    found = [bootstrap_rule(one, np.ones((200, 6)), one, one > 99, np.arange(200), **of_all) for one in loss]
    assert loss.mean(axis=2).min(axis=1).max() < 0.3
    assert np.mean([verdict.best_mean_square for verdict in found]) == pytest.approx(1.03, abs=0.30)


def undominated_by_hand(loss: np.ndarray) -> list[int]:
    """Choices that no other is as good as in every unit; of equals the first."""
    return [
        choice
        for choice in range(len(loss))
        if not any(
            (loss[other] <= loss[choice]).all() and ((loss[other] < loss[choice]).any() or other < choice)
            for other in range(len(loss))
            if other != choice
        )
    ]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 40), st.integers(1, 4), st.booleans())
def test_undominated_equals_brute_force(seed: int, n_choices: int, n_batches: int, is_coarse: bool) -> None:
    generator = np.random.default_rng(seed)
    loss = generator.uniform(0, 1, (n_choices, n_batches))
    if is_coarse:  # equals are common
        loss = np.round(loss * 3)
    expected = undominated_by_hand(loss)
    assert np.flatnonzero(undominated(loss)).tolist() == expected
    assert set(np.flatnonzero(undominated(loss, most_compared=2)).tolist()) >= set(expected)
    by_sum = sorted(expected, key=lambda choice: loss[choice].sum())  # of equal sums the first
    for most in (1, 3):
        assert np.flatnonzero(undominated(loss, most_kept=most)).tolist() == sorted(by_sum[:most])


def test_dropping_keeps_every_winner() -> None:
    loss, variance, over, _ = programme(np.random.default_rng(10), 500, 6)
    rank = np.arange(500)
    counts, _ = bootstrap_weights(6)
    kept = np.flatnonzero(undominated(loss))
    assert kept.size < 250
    best, _ = apply_rule(loss, variance, over, rank, counts)
    kept_best, _ = apply_rule(loss[kept], variance[kept], over[kept], rank[kept], counts)
    np.testing.assert_array_equal(kept[kept_best], best)


def test_what_cannot_be_ruled_on() -> None:
    ones, nothing, rank = np.ones((2, 3)), np.zeros((2, 3), dtype=bool), np.array([0, 1])
    counts = np.ones((1, 3), dtype=np.int64)
    with pytest.raises(ValueError, match="losses must be finite and not negative; there must be 2 ranks"):
        apply_rule(ones * np.nan, ones, nothing, np.array([1]), counts)
    with pytest.raises(ValueError, match=r"variance \(1, 3\).*variances must be finite and not negative"):
        apply_rule(ones, -ones[:1], nothing, rank, counts)
    with pytest.raises(ValueError, match=r"3 columns, given shape \(1, 2\)"):
        apply_rule(ones, ones, nothing, rank, counts[:, :2])
    with pytest.raises(ValueError, match="every world needs a batch"):
        apply_rule(ones, ones, nothing, rank, 0 * counts)
    with pytest.raises(ValueError, match="2 sizes, and limits that some choice keeps"):
        apply_rule(ones, ones, nothing, rank, counts, size=np.array([3, 4]), limits=np.array([2]))
    with pytest.raises(ValueError, match="row per choice"):
        apply_rule(ones[0], ones, nothing, rank, counts)
    with pytest.raises(ValueError, match="must leave a batch out"):
        bootstrap_rule(ones, ones, ones, nothing, rank, counts=counts, probability=np.ones(1))
    with pytest.raises(ValueError, match=r"of shape \(2, 3\), given shape \(1, 3\)"):
        bootstrap_rule(ones, ones, ones[:1], nothing, rank, counts=counts, probability=np.ones(1))
    with pytest.raises(ValueError, match="needs 2 or more, given 1"):
        bootstrap_weights(1)
    with pytest.raises(ValueError, match="given 0"):
        bootstrap_weights(12, n_sampled=0)


def test_sampled_worlds_that_leave_no_batch_out_are_drawn_again() -> None:
    # Of 50,000 worlds of 11 batches 11! / 11^11 = 1.4e-4, seven, hold every batch; by chance none in 1 of 1,000 runs.
    counts, probability = bootstrap_weights(11, n_sampled=50_000, seed=4)
    assert counts.shape == (50_000, 11)
    assert np.all(counts.sum(axis=1) == 11)
    assert np.all((counts == 0).any(axis=1))
    np.testing.assert_allclose(probability, 1.0 / 50_000)
