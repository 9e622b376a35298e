"""Many schedules as two arrays; each is made a value when it is looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np

from planner.terms.arrays import AnyArray, FloatArray, IntArray
from planner.terms.schedule import Schedule


@dataclass(frozen=True, slots=True, eq=False)
class ScheduleTable(Sequence[Schedule]):
    """Schedules in a fixed order. Half a million of them as values would cost more than the search."""

    ages_h: FloatArray  # ages that any of them holds, rising [h], (n_ages,)
    specimens: AnyArray  # at each of those, 0 where it is not broken, (n_schedules, n_ages)

    @classmethod
    def of(cls, schedules: Sequence[Schedule]) -> ScheduleTable:
        """Pack values; a table is returned as it is."""
        if isinstance(schedules, ScheduleTable):
            return schedules
        ages_h = sorted({age for schedule in schedules for age in schedule.ages_h})
        place = {age: at for at, age in enumerate(ages_h)}
        specimens = np.zeros((len(schedules), len(ages_h)), dtype=np.int16)
        for row, schedule in enumerate(schedules):
            for age, count in zip(schedule.ages_h, schedule.specimens, strict=True):
                specimens[row, place[age]] = count
        return cls(np.array(ages_h), specimens)

    @property
    def n_specimens(self) -> IntArray:
        """Specimens of each schedule, ``(n_schedules,)``."""
        return np.asarray(self.specimens.sum(axis=1, dtype=np.int64))

    @property
    def last_age_h(self) -> FloatArray:
        """Age of the last break of each schedule [h], ``(n_schedules,)``."""
        last = self.specimens.shape[1] - 1 - np.argmax(self.specimens[:, ::-1] > 0, axis=1)
        return np.asarray(self.ages_h[last])

    def __len__(self) -> int:
        return len(self.specimens)

    @overload
    def __getitem__(self, at: int) -> Schedule: ...

    @overload
    def __getitem__(self, at: slice) -> ScheduleTable: ...

    def __getitem__(self, at: int | slice) -> Schedule | ScheduleTable:
        if isinstance(at, slice):
            return ScheduleTable(self.ages_h, self.specimens[at])
        counts = self.specimens[at]
        held = np.flatnonzero(counts)
        return Schedule(tuple(self.ages_h[held].tolist()), tuple(counts[held].tolist()))
