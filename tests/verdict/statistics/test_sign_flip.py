"""The sign-flip comparison against counting by hand and by brute force."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.verdict.statistics.sign_flip import sign_flip


def test_all_on_one_side_reaches_the_floor() -> None:
    outcome = sign_flip([1.0, 2.0, 3.0, 4.0, 5.0])
    assert outcome.p == outcome.floor == 2 / 2**5
    assert outcome.is_exact


def test_counted_by_hand() -> None:
    # +-1 +-2 +-3: distances 6 6 4 4 2 2 0 0; seen 1 + 2 - 3 + ... = 4 for (-1, 2, 3)
    assert sign_flip([-1.0, 2.0, 3.0]).p == 4 / 8


def test_no_difference_at_all() -> None:
    assert sign_flip([0.0, 0.0, 0.0]).p == 1.0


def test_ties_up_to_rounding_are_ties() -> None:
    # 0.1 + 0.2 - 0.3 is not 0 in floating point, yet turning all of it is as far from 0 as it is
    assert sign_flip([0.1, 0.2, -0.3]).p == 1.0


@given(st.lists(st.integers(-50, 50), min_size=1, max_size=9))
def test_exact_equals_brute_force(differences: list[int]) -> None:
    seen = abs(sum(differences))
    patterns = product((1, -1), repeat=len(differences))
    n_far = sum(
        abs(sum(sign * value for sign, value in zip(signs, differences, strict=True))) >= seen for signs in patterns
    )
    assert sign_flip(differences).p == n_far / 2 ** len(differences)


def test_beyond_twenty_batches_it_draws_with_a_seed() -> None:
    differences = np.linspace(-1.0, 1.5, 21)
    first = sign_flip(differences, seed=3)
    assert first == sign_flip(differences, seed=3)
    assert not first.is_exact
    assert first.floor == 1 / 100_001
    # the normal limit: mean 5.25 over root of the sum of squares; seed 3, 100,000 draws stand within .01
    # but once in 1e8 seeds, and the limit itself is good to .01
    from scipy.stats import norm

    limit = 2 * norm.sf(abs(differences.sum()) / np.sqrt(np.sum(differences**2)))
    assert first.p == pytest.approx(limit, abs=0.02)


def test_drawn_p_is_never_zero() -> None:
    assert sign_flip(np.ones(40), n_sampled=99).p == 1 / 100


def test_what_cannot_be_compared() -> None:
    with pytest.raises(ValueError, match="given shape"):
        sign_flip([])
    with pytest.raises(ValueError, match="must be finite"):
        sign_flip([1.0, np.nan])
    with pytest.raises(ValueError, match="given 0"):
        sign_flip([1.0], n_sampled=0)
