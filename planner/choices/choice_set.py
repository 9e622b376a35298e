"""Schedules as arrays: sets of ages, and how many specimens at each.

The curve of a batch depends on the set of ages alone; the specimens enter the variance only. So sets of ages and
patterns of specimens are kept once and every schedule points to its own: ten million schedules take 80 MB.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import overload

import numpy as np

from planner.terms.arrays import AnyArray, BoolArray, FloatArray, IntArray
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, eq=False)
class ChoiceSet:
    """Schedules over the recorded ages. Rows are padded with -1 (positions) and 0 (specimens).

    A pattern is a number of specimens at each age of a set; it has as many numbers above 0 as its sets have ages.
    """

    ages_h: FloatArray  # recorded ages [h], (n_recorded,)
    set_members: AnyArray  # positions of the ages of each set, rising, (n_sets, most_ages), small whole numbers
    set_n_ages: IntArray  # (n_sets,)
    set_of: AnyArray  # set of each schedule, (n_choices,), whole numbers
    pattern_of: AnyArray  # pattern of each schedule, (n_choices,), whole numbers
    patterns: AnyArray  # specimens at each age of a set, (n_patterns, most_ages), small whole numbers

    def __len__(self) -> int:
        return len(self.set_of)

    @property
    def n_sets(self) -> int:
        return len(self.set_n_ages)

    @property
    def n_ages(self) -> IntArray:
        """Ages of each schedule, ``(n_choices,)``."""
        return self.set_n_ages[self.set_of]

    @property
    def members(self) -> AnyArray:
        """Positions of the ages of each schedule, ``(n_choices, most_ages)``."""
        return self.set_members[self.set_of]

    @property
    def specimens(self) -> AnyArray:
        """Specimens at each age of the set of each schedule, ``(n_choices, most_ages)``."""
        return self.patterns[self.pattern_of]

    @property
    def n_specimens(self) -> IntArray:
        """Specimens of each schedule, ``(n_choices,)``."""
        if len(self) < len(self.patterns):  # a block of them
            return np.asarray(self.specimens.sum(axis=1, dtype=np.int64))
        return np.asarray(self.patterns.sum(axis=1, dtype=np.int64)[self.pattern_of])

    @property
    def last_age_h(self) -> FloatArray:
        """Age of the last break of each schedule [h], ``(n_choices,)``."""
        last = self.set_members[np.arange(self.n_sets), self.set_n_ages - 1]
        return self.ages_h[last][self.set_of]

    def row(self, which: int) -> tuple[IntArray, IntArray]:
        """Positions and specimens of one schedule, each ``(n_ages,)``."""
        at = int(self.set_of[which])
        n = int(self.set_n_ages[at])
        counts = self.patterns[self.pattern_of[which], :n]
        return self.set_members[at, :n].astype(np.int64), counts.astype(np.int64)

    def specimens_of(self, which: AnyArray | slice) -> AnyArray:
        """Rows of `specimens` of some schedules: a mask, positions or a slice."""
        return self.patterns[self.pattern_of[which]]

    def schedule(self, which: int) -> Schedule:
        """Return one row as a value."""
        positions, counts = self.row(which)
        return Schedule(tuple(float(self.ages_h[i]) for i in positions), tuple(int(n) for n in counts))

    def schedules(self, which: IntArray) -> Sequence[Schedule]:
        """Return rows as values, made when they are looked at."""
        return _Schedules(self, which)

    def is_used(self) -> BoolArray:
        """Which patterns some schedule has, ``(n_patterns,)``."""
        used = np.zeros(len(self.patterns), dtype=bool)
        used[self.pattern_of] = True
        return used

    def part(self, kept: AnyArray | slice) -> ChoiceSet:
        """Some of the schedules, in the same order; sets and patterns stay. A mask, positions or a slice."""
        return replace(self, set_of=self.set_of[kept], pattern_of=self.pattern_of[kept])

    def in_blocks(self, size: int) -> Iterator[tuple[slice, ChoiceSet]]:
        """Spans of so many schedules, one after the other, so that what is worked out of them stays small."""
        for start in range(0, len(self), size):
            span = slice(start, min(start + size, len(self)))
            yield span, self.part(span)

    def alone(self, which: int) -> ChoiceSet:
        """The same with one schedule only."""
        positions, counts = self.row(which)
        return choice_set(self.ages_h, [(positions.tolist(), counts.tolist())])

    def set_has_age(self) -> BoolArray:
        """Which recorded ages each set holds, ``(n_sets, n_recorded)``."""
        held = np.zeros((self.n_sets, len(self.ages_h) + 1), dtype=bool)
        np.put_along_axis(held, self.set_members.astype(np.int64), True, axis=1)
        return held[:, :-1]

    def has_age(self) -> BoolArray:
        """Which recorded ages each schedule holds, ``(n_choices, n_recorded)``."""
        return self.set_has_age()[self.set_of]

    def specimens_by_age(self) -> AnyArray:
        """Specimens at every recorded age, ``(n_choices, n_recorded)``."""
        counts = np.zeros((len(self), len(self.ages_h) + 1), dtype=self.patterns.dtype)
        np.put_along_axis(counts, self.members.astype(np.int64), self.specimens, axis=1)
        return counts[:, :-1]


class _Schedules(Sequence[Schedule]):
    """Rows of a choice set; half a million of them as values would cost more than the search."""

    __slots__ = ("_choices", "_which")

    def __init__(self, choices: ChoiceSet, which: IntArray) -> None:
        self._choices = choices
        self._which = which

    def __len__(self) -> int:
        return len(self._which)

    @overload
    def __getitem__(self, at: int) -> Schedule: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[Schedule]: ...

    def __getitem__(self, at: int | slice) -> Schedule | Sequence[Schedule]:
        if isinstance(at, slice):
            return _Schedules(self._choices, self._which[at])
        return self._choices.schedule(int(self._which[at]))


def choice_set(ages_h: FloatArray, schedules: Iterable[tuple[Sequence[int], Sequence[int]]]) -> ChoiceSet:
    """Pack (positions, specimens) pairs into arrays, one set and one pattern for each."""
    rows = list(schedules)
    most = max(len(positions) for positions, _ in rows)
    members = np.full((len(rows), most), -1, dtype=np.int16)
    specimens = np.zeros((len(rows), most), dtype=np.int16)
    for row, (positions, counts) in enumerate(rows):
        members[row, : len(positions)] = positions
        specimens[row, : len(positions)] = counts
    n_ages = np.array([len(positions) for positions, _ in rows], dtype=np.int64)
    each = np.arange(len(rows))
    return ChoiceSet(ages_h, members, n_ages, each, each, specimens)
