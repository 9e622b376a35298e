"""Next-batch errors: the curve of one batch read at the maturity of another, against the other's truth.

The curve of a trial batch serves later pours, so this is what a crew meets. Pairs share batches, so the
batches are the clusters: what counts is their number, not that of the pairs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling.errors import arithmetic
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint, prior_counts, sweep_view, variance_with
from planner.terms.arrays import BoolArray, FloatArray, IntArray

MOST_PAIRS = 1_000_000  # of more, an even choice: their number grows with the square of the batches


@dataclass(frozen=True, slots=True, eq=False)
class PairErrors:
    """Errors of one joint choice over ordered pairs (calibrated on, read on) of batches of one mix."""

    error: FloatArray  # signed, measured, (n_pairs,)
    level: FloatArray  # unbiased squared error against true strength, (n_pairs,)
    calibrated_on: IntArray  # batch, as a position in `batches`, or a number for each set of batches, (n_pairs,)
    read_on: IntArray  # batch, (n_pairs,)
    target: IntArray  # (n_pairs,)
    weight: FloatArray  # sums to 1, (n_pairs,)
    check: IntArray  # that it is read at, (n_pairs,)
    batches: tuple[str, ...]

    @property
    def pair(self) -> IntArray:
        """A number for each curve on each pour: what is read together at all targets, ``(n_pairs,)``."""
        return self.calibrated_on * len(self.batches) + self.read_on

    def take(self, is_taken: BoolArray | IntArray) -> PairErrors:
        """Some of the pairs, by a mask or positions; their weights stay what they are."""
        return PairErrors(
            self.error[is_taken],
            self.level[is_taken],
            self.calibrated_on[is_taken],
            self.read_on[is_taken],
            self.target[is_taken],
            self.weight[is_taken],
            self.check[is_taken],
            self.batches,
        )

    @classmethod
    def together(cls, parts: Sequence[PairErrors]) -> PairErrors:
        """Pairs of several choices over the same batches, one after the other; their weights stay what they are."""
        return cls(
            error=np.concatenate([part.error for part in parts]),
            level=np.concatenate([part.level for part in parts]),
            calibrated_on=np.concatenate([part.calibrated_on for part in parts]),
            read_on=np.concatenate([part.read_on for part in parts]),
            target=np.concatenate([part.target for part in parts]),
            weight=np.concatenate([part.weight for part in parts]),
            check=np.concatenate([part.check for part in parts]),
            batches=parts[0].batches,
        )


def pair_errors(cells: Cells, scoring: Scoring, choices: ChoiceSet, which: int, joint: Joint) -> PairErrors | None:
    """Read the curve of every batch on every other batch of its mix; None without such a pair.

    Beyond `MOST_PAIRS` every curve is read at every second check of the others, or every third and so on, the first of
    them moving on from curve to curve: every batch stays trial batch and pour, and every pour is read as often.
    """
    alone = choices.alone(which)
    batches = tuple(dict.fromkeys(cells.views.batch))
    of_batch, of_mix = cells.views.batch_code, cells.views.mix_code
    by_mix = np.argsort(of_mix[cells.checks.view], kind="stable")  # checks, mix by mix, in their order
    edges = np.searchsorted(of_mix[cells.checks.view][by_mix], np.arange(of_mix.max() + 2))
    n_twins = np.bincount(of_batch)  # views of one batch share its weight
    n_checks = np.diff(edges)
    stride = max(1, -(-int(n_checks[of_mix].sum()) // MOST_PAIRS))
    rows: list[tuple[FloatArray, ...]] = []
    for view in range(len(of_batch)):
        of_same = by_mix[edges[of_mix[view]] : edges[of_mix[view] + 1]]
        others = of_same[of_batch[cells.checks.view[of_same]] != of_batch[view]][view % stride :: stride]
        if others.size == 0:
            continue
        error, contribution, _status, _looks = sweep_view(
            cells, alone.set_members, alone.set_n_ages, joint, view, others
        )
        own_variance = variance_with(contribution, alone.specimens)[0]
        prior_variance = variance_with(contribution, prior_counts(cells, alone.set_members, view))[0]
        level = arithmetic.level(error[0], own_variance, prior_variance, scoring.truth_variance[others])
        is_had = np.isfinite(error[0])
        kept = others[is_had]
        weight = scoring.check_weight[kept] / n_twins[of_batch[view]]
        rows.append((
            error[0, is_had],
            level[is_had],
            np.full(kept.size, of_batch[view]),
            of_batch[cells.checks.view[kept]],
            cells.checks.target[kept],
            weight,
            kept,
        ))  # fmt: skip
    if not rows:
        return None
    columns = [np.concatenate(column) for column in zip(*rows, strict=True)]
    if columns[0].size == 0:
        return None
    errors, levels, calibrated_on, read_on, target, weight, check = columns
    return PairErrors(errors, levels, calibrated_on, read_on, target, weight / weight.sum(), check, batches)
