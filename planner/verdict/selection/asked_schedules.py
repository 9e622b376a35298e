"""Which schedules of a large search the rule, its tables and its sentences can ever ask for.

Everything that reads all schedules takes one that is first by some figure. So of each block of schedules those that
are first stay, and whatever is first of all is among them; a second look at those that stay gives the same answers, to
the last bit, in memory that does not grow with the number of schedules.

Kept are the schedules with a row in the error matrix, those of lowest score, the one of lowest score with every joint,
and of programmes within the limits: those that none of their price beats (`price_fronts`), and the first ones of
`FixedProgrammes.decide` and `ProgrammeRule.cheapest_enough`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.resampling import ErrorMatrix
from planner.resampling.errors.later_pours.judged_programmes import Programmes
from planner.resampling.search.error_matrix import Progress
from planner.resampling.search.row_limit import lowest
from planner.resampling.threads import in_order
from planner.terms.arrays import AnyArray, FloatArray, IntArray
from planner.verdict.selection.programmes.price_fronts import price_fronts
from planner.verdict.selection.programmes.programme import Limits
from planner.verdict.wording.held_out_words import JUDGING

AT_ONCE = 125_000  # schedules that are judged together


@dataclass(frozen=True, slots=True, eq=False)
class JudgedBlock:
    """Some schedules as the rule of programmes sees them."""

    limits: Limits
    everything: Programmes


JudgeBlock = Callable[[ChoiceSet, AnyArray], JudgedBlock]  # schedules, and the joint of lowest loss of each
AlsoAsked = Callable[[slice, JudgedBlock, ErrorMatrix], IntArray]  # positions within a span of the matrix's schedules


def asked_schedules(
    matrix: ErrorMatrix,
    *,
    n_lowest: int,
    assurance: float,
    judge_block: JudgeBlock | None,
    also: AlsoAsked | None = None,
    n_workers: int = 1,
    progress: Progress | None = None,
) -> IntArray:
    """Find them, as rising positions.

    Parameters
    ----------
    n_lowest
        Schedules of lowest score that are listed; of equals the first.
    assurance
        Share of batches inside that is good enough.
    judge_block
        None where no programmes are judged: batches are drawn.
    also
        What else is asked of each block, one after the other.
    n_workers
        Blocks judged at a time.
    progress
        Called with (done, total, what) after each block.
    """
    kept = [np.unique(matrix.row_choice), lowest(matrix.score, n_lowest), _of_each_joint(matrix)]
    if judge_block is not None:

        def look(part: tuple[slice, ChoiceSet]) -> tuple[IntArray, JudgedBlock | None]:
            span, some = part
            block = judge_block(some, matrix.best_joint[span])
            return _first_programmes(block, matrix.score[span], assurance), None if also is None else block

        parts = list(matrix.choices.in_blocks(AT_ONCE))
        for (span, _), (found, block) in zip(parts, in_order(look, parts, n_workers), strict=True):
            kept.append(span.start + found)
            if also is not None and block is not None:
                kept.append(span.start + also(span, block, matrix))
            if progress:
                progress(span.stop, len(matrix.choices), JUDGING)
    return np.unique(np.concatenate(kept))


def _of_each_joint(matrix: ErrorMatrix) -> IntArray:
    """The first schedule of lowest score among those that each joint suits best."""
    found = [np.flatnonzero(matrix.best_joint == joint) for joint in range(len(matrix.joints))]
    return np.array([at[np.argmin(matrix.score[at])] for at in found if at.size], dtype=np.int64)


def _first_programmes(block: JudgedBlock, score: FloatArray, assurance: float) -> IntArray:
    """Positions within the block."""
    limits, stated = block.limits, block.everything
    every = np.arange(len(score))
    columns = [stated.trial_batches.index(number) for number in limits.trial_batches]
    is_allowed = np.stack([limits.allows(every, number) for number in limits.trial_batches], axis=1)
    price = limits.price_keys(every, np.array(limits.trial_batches[:1]))
    found = list(price_fronts(stated, columns, is_allowed, price, score))
    for place, column in enumerate(columns):
        rms, share = stated.rms[:, column], stated.within_tolerance[:, column]
        offered = np.flatnonzero(is_allowed[:, place] & np.isfinite(rms))
        good = np.flatnonzero(is_allowed[:, place] & (share >= assurance))
        for at, keys in (
            (offered, (rms, limits.n_specimens)),
            (offered, (-share, limits.n_specimens, rms)),
            (good, (limits.n_specimens, rms)),
            (good, (*price, score)),
        ):
            found.append(_first(at, keys))
    return np.concatenate(found)


def _first(at: IntArray, keys: Sequence[AnyArray]) -> IntArray:
    """The first of some positions by several keys, the first counting most; none of none."""
    for key in keys:
        at = at[key[at] == key[at].min()] if at.size else at
    return at[:1]
