"""Pairs: means of two geometries of one batch, curing, placement and age."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean

import numpy as np

from planner.evidence.within_test_scatter import within_test_scatter
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.plan.settings import Prior
from planner.terms.records import Break

Place = tuple[str, str, str, float]  # batch, curing, placement, age [h]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pairs:
    """Columns of equal length, ``(n_pairs,)``."""

    batch: tuple[str, ...]
    curing: tuple[str, ...]
    age_h: FloatArray
    from_mpa: FloatArray  # means
    to_mpa: FloatArray
    from_sd_mpa: FloatArray  # of the means, from the within-test scatter of their own geometry
    to_sd_mpa: FloatArray

    def __len__(self) -> int:
        return len(self.batch)

    @property
    def batches(self) -> tuple[str, ...]:
        """In the order in which they first come."""
        return tuple(dict.fromkeys(self.batch))

    @property
    def cluster(self) -> IntArray:
        """Batch of each pair as a position in `batches`."""
        place = {name: at for at, name in enumerate(dict.fromkeys(self.batch))}
        return np.array([place[name] for name in self.batch], dtype=np.int64)

    def take(self, is_taken: BoolArray) -> Pairs:
        """Some of the pairs."""
        kept = np.flatnonzero(is_taken)
        return Pairs(
            batch=tuple(self.batch[i] for i in kept),
            curing=tuple(self.curing[i] for i in kept),
            age_h=self.age_h[kept],
            from_mpa=self.from_mpa[kept],
            to_mpa=self.to_mpa[kept],
            from_sd_mpa=self.from_sd_mpa[kept],
            to_sd_mpa=self.to_sd_mpa[kept],
        )

    def without(self, batch: str) -> Pairs:
        """The pairs of all other batches."""
        return self.take(np.array([name != batch for name in self.batch], dtype=np.bool_))


def groups_of(breaks: Iterable[Break], geometry: str) -> dict[Place, list[Break]]:
    """Replicates of one geometry by where they belong."""
    groups: dict[Place, list[Break]] = defaultdict(list)
    for item in breaks:
        if item.geometry == geometry:
            groups[item.batch, item.curing, item.placement, item.age_h].append(item)
    return groups


def pairs_of(
    breaks: Sequence[Break],
    from_geometry: str,
    to_geometry: str,
    *,
    from_cv: float | None = None,
    to_cv: float | None = None,
) -> Pairs:
    """Pair the means of two geometries, batch by batch in the order of the records.

    Parameters
    ----------
    from_cv, to_cv
        Stated within-test scatter, relative; where None, that of the records, each geometry by itself.
    """
    found, wanted = groups_of(breaks, from_geometry), groups_of(breaks, to_geometry)
    shared = [place for place in found if place in wanted]
    age_h = np.array([place[3] for place in shared])
    means, deviations = [], []
    for groups, cv in ((found, from_cv), (wanted, to_cv)):
        every = [item for items in groups.values() for item in items]
        scatter = within_test_scatter(every, Prior(within_test_cv=cv))
        mean = np.array([fmean(item.strength_mpa for item in groups[place]) for place in shared])
        count = np.array([len(groups[place]) for place in shared], dtype=np.float64)
        means.append(mean)
        deviations.append(scatter.cv_at(age_h) * mean / np.sqrt(count))
    return Pairs(
        batch=tuple(place[0] for place in shared),
        curing=tuple(place[1] for place in shared),
        age_h=age_h,
        from_mpa=means[0],
        to_mpa=means[1],
        from_sd_mpa=deviations[0],
        to_sd_mpa=deviations[1],
    )
