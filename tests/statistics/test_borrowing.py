"""The study of borrowed strength, smaller: what it must show at any size, and its arithmetic by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.mixed_model import SpreadPriors
from tests.statistics.borrowing import (
    Read,
    Row,
    _row,
    judge_law,
    rescaled_trials,
    tables,
    wanted_of,
    wanted_table,
)
from tests.statistics.later_pours import DEMO, LAWS, concrete_of
from tests.statistics.published_shapes import held_out_errors, mix_sets

N_PROGRAMMES, N_POURS = 20, 50


def test_figures_of_a_row_by_hand() -> None:
    one = Read(np.array([0.2, 0.0]), np.array([0.1, 0.1]), np.array([0.0, 1.0]))
    other = Read(np.array([0.1, -0.1]), np.array([0.1, 0.1]), np.array([1.0, 1.0]))
    row = _row("law", 3, 1, [[one], [other]])
    assert row.rms == pytest.approx(np.sqrt((0.02 + 0.01) / 2))
    assert row.stated_over_realised == pytest.approx((np.sqrt(0.01 / 0.02) + 1.0) / 2)
    assert (row.held, row.least_held, row.over_predicted) == pytest.approx((0.75, 0.5, 0.25))


def rows_with(*, rms: float, held: float, ratio: float) -> list[Row]:
    names = ["demo", "demo, medians halved", "demo, medians doubled", "twice the spread"]
    return [
        Row(law=name, n_batches=n, n_early=early, rms=rms, stated_over_realised=ratio, held=held, least_held=held,
            over_predicted=0.0)
        for name in names for n in (3, 4, 6, 9) for early in (0, 1, 2, 4)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("given", "n_missed"),
    [
        ({"rms": 0.046, "held": 0.90, "ratio": 1.0}, 0),
        ({"rms": 0.047, "held": 0.90, "ratio": 1.0}, 1),  # four specimens
        ({"rms": 0.061, "held": 0.90, "ratio": 1.0}, 2),
        ({"rms": 0.046, "held": 0.86, "ratio": 1.0}, 4),  # from four batches on, four laws
        ({"rms": 0.046, "held": 0.84, "ratio": 1.0}, 8),
        ({"rms": 0.046, "held": 0.96, "ratio": 1.0}, 1),  # too wide, at the default medians
        ({"rms": 0.046, "held": 0.90, "ratio": 0.85}, 1),
        ({"rms": 0.046, "held": 0.90, "ratio": 1.25}, 2),
    ],
)
def test_what_is_wanted_by_hand(given: dict[str, float], n_missed: int) -> None:
    found = wanted_of(rows_with(**given))
    assert sum(not one.is_kept for one in found) == n_missed
    assert wanted_table(rows_with(**given)).count("| NO |") == n_missed


def test_no_early_break_comes_after_its_target() -> None:
    for law in LAWS:
        for plans in law.early.values():
            for target_h, early in zip(law.targets_h, plans, strict=True):
                assert all(age < target_h for age, _ in early)


@pytest.mark.slow
def test_early_breaks_and_more_batches_help_and_bounds_hold() -> None:
    """20 programmes of 50 pours, fixed seed. The margins are what 60 programmes gave and four standard errors.

    Of its 14 comparisons one fails falsely in about 1 of 1,100 sets of seeds.
    """
    concrete = concrete_of(DEMO, N_PROGRAMMES * (N_POURS + 9))
    rows = {
        (row.n_batches, row.n_early): row
        for row in judge_law(DEMO, concrete, N_PROGRAMMES, N_POURS, SpreadPriors(), DEMO.name)
    }
    assert rows[9, 1].rms <= 0.066
    assert rows[9, 4].rms <= 0.050
    assert rows[9, 4].rms < rows[9, 1].rms < rows[9, 0].rms
    assert rows[9, 1].rms < rows[3, 1].rms
    for n_batches in (4, 6, 9):
        assert 0.85 <= rows[n_batches, 1].held <= 0.97
        assert 0.85 <= rows[n_batches, 1].stated_over_realised <= 1.15
    assert rows[3, 1].held >= 0.85
    rivals = rescaled_trials(concrete, 6, 20)
    assert rivals[1][0] > rows[3, 1].rms
    found = tables(list(rows.values()), rivals)
    assert f"| demo | 9 | 1 | {100 * rows[9, 1].rms:.1f} | {rows[9, 1].stated_over_realised:.2f} |" in found


def test_shape_prior_beats_the_free_exponential_where_few_ages_are_left() -> None:
    mixes = min(mix_sets(), key=lambda one: len(one.ages_h))
    for errors in held_out_errors(mixes).values():
        learnt, free = (np.sqrt(np.mean(errors[name] ** 2)) for name in ("shape prior", "exponential"))
        assert learnt < free
