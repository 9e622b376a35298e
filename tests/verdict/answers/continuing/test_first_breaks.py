"""Earlier batches beside the first breaks of a new one."""

from __future__ import annotations

import numpy as np

from planner.mixed_model import CellMeans, PriorBatches
from planner.verdict.answers.continuing.first_breaks import EarlierBatches
from planner.verdict.answers.continuing.first_mean import FirstMean

AGES_H = np.array([6.0, 12.0, 24.0, 72.0])


def invented() -> EarlierBatches:
    """Six batches at four ages, the earliest broken of the first batch alone."""
    random = np.random.default_rng(4)
    level = 1.0 + 0.08 * random.standard_normal((6, 1))
    mean = level * np.array([4.0, 11.0, 22.0, 34.0]) * (1.0 + 0.02 * random.standard_normal((6, 4)))
    n = np.full((6, 4), 3.0)
    n[1:, 0] = 0.0
    cells = PriorBatches(mean_mpa=mean, n_specimens=n, maturity_h=np.tile(AGES_H, (6, 1)), cv=np.full(4, 0.03))
    return EarlierBatches.of(tuple("ABCDEF"), AGES_H, cells)


def test_an_age_that_only_the_batch_left_out_holds_goes_with_it() -> None:
    earlier = invented()
    assert earlier.without(0).ages_h.tolist() == [12.0, 24.0, 72.0]
    assert earlier.without(0).names == tuple("BCDEF")
    for batch in range(1, 6):
        assert earlier.without(batch).ages_h.tolist() == AGES_H.tolist()


def test_one_mean_is_answered_as_the_general_question_answers_it() -> None:
    """What is found once for every mean, against the stranger test and the weights asked mean by mean."""
    earlier, column, n = invented(), 1, 2
    first = FirstMean.of(earlier, column, n)
    n_strangers = 0
    for mean in np.exp(first.middle + first.sd * np.linspace(-6.0, 6.0, 41)):
        broken = CellMeans(
            maturity_h=AGES_H[[column]], mean_mpa=np.array([mean]), n_specimens=np.array([float(n)])
        )  # fmt: skip
        test = earlier.stranger(broken)
        assert first.is_stranger(float(mean)) == test.is_stranger
        n_strangers += bool(test.is_stranger)
        np.testing.assert_allclose(first.weights(float(mean)), earlier.weights(broken, [12.0]), rtol=1e-12)
        assert first.noticed_deficit == test.noticed_deficit
    assert 0 < n_strangers < 41
