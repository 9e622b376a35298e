"""Every allowed programme of a search as a row of a few small numbers, to be held against those of other mixes.

A search of very many schedules lets most of them go; what a family of mixes asks of each is written down here first,
block by block.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.terms.arrays import AnyArray, BoolArray, FloatArray
from planner.verdict.selection.programmes.fixed_programmes import FixedProgrammes
from planner.verdict.selection.programmes.programme import Limits


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ProgrammeTable:
    """Programmes within the limits that can be judged, in the order of the schedules, then of the trial batches."""

    counts: AnyArray  # specimens of a trial batch at each recorded age, (n_programmes, n_ages)
    numbers: AnyArray  # of trial batches, (n_programmes,)
    n_visits: AnyArray  # of a trial batch, (n_programmes,)
    joint: AnyArray  # the one of lowest loss, (n_programmes,)
    score: AnyArray  # own-batch loss, (n_programmes,)
    rms: AnyArray  # judged, (n_programmes,)
    is_keeping: BoolArray  # the target, (n_programmes,)
    cost: FloatArray | None  # of the whole calibration, (n_programmes,); None without prices

    @classmethod
    def of(cls, fixed: FixedProgrammes, limits: Limits, choices: ChoiceSet, score: AnyArray) -> ProgrammeTable:
        """Write down some schedules; `score` is the own-batch loss of each, ``(n_choices,)``."""
        which, column = np.nonzero(fixed.is_possible)
        every = np.arange(len(choices))
        costs = [cost for number in fixed.trial_batches if (cost := limits.cost(every, number)) is not None]
        return cls(
            counts=choices.specimens_by_age()[which].astype(np.int16),
            numbers=np.array(fixed.trial_batches, dtype=np.int16)[column],
            n_visits=limits.n_visits[which].astype(np.int16),
            joint=fixed.joint[which].astype(np.int16),
            score=score[which],
            rms=fixed.rms[which, column],
            is_keeping=fixed.is_enough[which, column],
            cost=np.stack(costs, axis=1)[which, column] if costs else None,
        )

    @classmethod
    def joined(cls, parts: Sequence[ProgrammeTable]) -> ProgrammeTable:
        """One table of those of blocks of schedules, in their order."""
        costs = [part.cost for part in parts if part.cost is not None]
        return cls(
            counts=np.concatenate([part.counts for part in parts]),
            numbers=np.concatenate([part.numbers for part in parts]),
            n_visits=np.concatenate([part.n_visits for part in parts]),
            joint=np.concatenate([part.joint for part in parts]),
            score=np.concatenate([part.score for part in parts]),
            rms=np.concatenate([part.rms for part in parts]),
            is_keeping=np.concatenate([part.is_keeping for part in parts]),
            cost=np.concatenate(costs) if costs else None,
        )
