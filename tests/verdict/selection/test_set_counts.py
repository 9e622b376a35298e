"""First programmes of groups of schedules against the rule that decides, and counts by set against counting."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from planner.verdict.selection.programmes.fixed_programmes import FixedProgrammes
from planner.verdict.selection.programmes.set_counts import SetCounts, evenly, first_of_groups

NUMBERS = (1, 2)
N, N_SETS = 300, 12


def programmes(seed: int, n_values: int) -> tuple[FixedProgrammes, np.ndarray, dict[str, Any]]:
    """Programmes with few different figures, so that many are equal; some cannot be judged or are beyond limits."""
    rng = np.random.default_rng((31, seed))
    rms = rng.integers(1, n_values + 1, size=(N, 2)).astype(np.float32)
    rms[rng.random((N, 2)) < 0.1] = np.nan
    fixed = FixedProgrammes(
        judged_on="later pour",
        assurance=0.5,
        trial_batches=NUMBERS,
        joint=np.zeros(N, dtype=np.int64),
        n_specimens=rng.integers(4, 7, size=N),
        rms=rms,
        within_tolerance=rng.random((N, 2)).astype(np.float32),
        is_within_limits=rng.random((N, 2)) < 0.8,
    )
    set_of = np.sort(rng.integers(N_SETS, size=N))
    beside = {"cost": rng.integers(9, size=(N, 2)).astype(np.float64), "score": rng.integers(5, size=N).astype(float)}
    return fixed, set_of, beside


def only(fixed: FixedProgrammes, kept: np.ndarray) -> FixedProgrammes:
    names = ("joint", "n_specimens", "rms", "within_tolerance", "is_within_limits")
    return replace(fixed, **{name: getattr(fixed, name)[kept] for name in names})


@pytest.mark.parametrize("n_values", [2, 5, 1000])
@pytest.mark.parametrize("seed", range(4))
def test_what_stays_decides_every_union_of_sets_as_all_would(seed: int, n_values: int) -> None:
    fixed, set_of, beside = programmes(seed, n_values)
    kept = first_of_groups(fixed, set_of, **beside)
    assert np.all(np.diff(kept) > 0)
    assert len(kept) <= 4 * N_SETS
    rng = np.random.default_rng((32, seed))
    part, numbers = only(fixed, kept), np.array(NUMBERS)
    for _ in range(20):
        union = rng.random(N_SETS) < rng.uniform(0.05, 1.0)
        whole, cut = fixed.decide(union[set_of]), part.decide(union[set_of[kept]])
        if whole is None or cut is None:
            assert whole is cut
            continue
        assert replace(cut.lowest, which=int(kept[cut.lowest.which])) == whole.lowest
        if whole.fewest is None or cut.fewest is None:
            assert whole.fewest is cut.fewest
            continue
        assert replace(cut.fewest, which=int(kept[cut.fewest.which])) == whole.fewest
        keeping = fixed.is_possible & fixed.is_enough & union[set_of][:, None]
        keeping_cut = part.is_possible & part.is_enough & union[set_of[kept]][:, None]
        assert beside["cost"][kept][keeping_cut].min() == beside["cost"][keeping].min()
        which, column = np.nonzero(fixed.is_possible & union[set_of][:, None])
        counts = fixed.n_specimens[which] * numbers[column]
        first = min(zip(counts.tolist(), beside["score"][which].tolist(), which.tolist(), strict=True))
        at, place = np.nonzero(part.is_possible & union[set_of[kept]][:, None])
        of_cut = part.n_specimens[at] * numbers[place]
        found = min(zip(of_cut.tolist(), beside["score"][kept[at]].tolist(), kept[at].tolist(), strict=True))
        assert found == first


def test_schedules_in_no_group_stay_out_and_without_prices_nothing_is_cheapest() -> None:
    fixed, set_of, beside = programmes(0, 5)
    mask = np.arange(N) % 3 == 0
    kept = first_of_groups(fixed, np.where(mask, 0, -1), cost=None, score=beside["score"])
    assert 0 < len(kept) <= 3
    assert mask[kept].all()
    assert not len(first_of_groups(fixed, np.full(N, -1), **beside))
    with_prices = first_of_groups(fixed, set_of, **beside)
    assert len(first_of_groups(fixed, set_of, cost=None, score=beside["score"])) < len(with_prices)


def test_counts_of_sets_are_counted_one_by_one() -> None:
    fixed, set_of, _ = programmes(1, 1000)
    found = SetCounts.of(fixed, set_of, N_SETS)
    half = N // 2
    parts = [SetCounts.of(only(fixed, np.arange(a, b)), set_of[a:b], N_SETS) for a, b in ((0, half), (half, N))]
    added = parts[0] + parts[1]
    for one in range(N_SETS):
        counts = [0, 0, 0, 0]
        for which in np.flatnonzero(set_of == one):
            possible = [
                bool(fixed.is_within_limits[which, m]) and bool(np.isfinite(fixed.rms[which, m])) for m in range(2)
            ]
            keeping = [possible[m] and fixed.within_tolerance[which, m] >= 0.5 for m in range(2)]
            counts = [
                counts[0] + sum(possible), counts[1] + sum(keeping), counts[2] + any(possible), counts[3] + any(keeping)
            ]  # fmt: skip
        for each in (found, added):
            assert [
                each.programmes[one], each.keeping[one], each.schedules[one], each.keeping_schedules[one]
            ] == counts  # fmt: skip


def test_an_even_choice() -> None:
    positions = np.arange(0, 60_000, 3)
    found = evenly(positions)
    assert len(found) == 5_000
    assert (found[0], found[-1]) == (0, 59_997)
    assert set(np.diff(found)) <= {9, 12, 15}
    assert evenly(positions[:7]).tolist() == positions[:7].tolist()
    assert evenly(positions[:0]).tolist() == []
