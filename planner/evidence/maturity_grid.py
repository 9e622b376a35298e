"""Which maturity settings are in the search, and the maturity of every break under each of them.

The constants that a plan lists are refined once: half-way between two neighbours stands another candidate, fitted,
judged and chosen like those listed, without each batch too, so that held-out errors know of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from planner.evidence.record_words import age_for_maturity, constants_not_told_apart
from planner.maturity import constant_maturity, maturities_at
from planner.terms.arrays import FloatArray
from planner.terms.maturity import MaturityMethod, MaturitySetting
from planner.terms.plan.settings import MaturityGrid, Prior
from planner.terms.problems import Caution
from planner.terms.records import Break, CuringRecord, Records

LEAST_SPAN_K = 10.0  # temperatures closer together than this cannot tell constants apart
# Neighbours farther apart are refined. Finer steps nobody tells apart: nine batches find Q to some 300 K.
COARSE: dict[MaturityMethod, float] = {"equivalent age": 500.0, "temperature-time": 2.5}  # [K], [C]


def maturity_settings(
    records: Records, prior: Prior, grid: MaturityGrid
) -> tuple[tuple[MaturitySetting, ...], Caution | None]:
    """List the maturity settings to search, and say why where the grid is not searched."""
    readings = [record.temperature_c for record in records.curing_records]
    if prior.standard_curing_c is not None:
        readings.append(np.array([prior.standard_curing_c]))
    if not readings:
        return (MaturitySetting("age"),), age_for_maturity()
    span = float(max(np.max(item) for item in readings) - min(np.min(item) for item in readings))
    by_age = [MaturitySetting("equivalent age", q, grid.reference_c) for q in grid.equivalent_age_q_k]
    by_datum = [MaturitySetting("temperature-time", datum, grid.reference_c) for datum in grid.datum_c]
    settings = tuple(by_age + by_datum)
    if not settings:
        settings = (MaturitySetting("equivalent age", 5000.0, grid.reference_c),)
    if span >= LEAST_SPAN_K or len(settings) == 1:
        return settings, None
    of_mortar = settings_of_mortar(grid)
    taken = of_mortar[0] if of_mortar else (by_age or by_datum)[len(by_age or by_datum) // 2]
    said = constants_not_told_apart(span, LEAST_SPAN_K, taken, grid.reference_c, is_of_mortar=bool(of_mortar))
    return (taken,), said


def refined(settings: Sequence[MaturitySetting]) -> tuple[MaturitySetting, ...]:
    """The settings, and after them those half-way between coarse neighbours of one method, rising.

    Of constants that do just as well the first is taken: one that the plan lists.
    """
    found = list(settings)
    for method, coarse in COARSE.items():
        listed = sorted({one.constant for one in settings if one.method == method})
        reference_c = settings[0].reference_c
        found += [
            MaturitySetting(method, (low + high) / 2.0, reference_c)
            for low, high in pairwise(listed)
            if high - low > coarse
        ]
    return tuple(found)


def settings_of_mortar(grid: MaturityGrid) -> tuple[MaturitySetting, ...]:
    """The constants that cubes of mortar tell, Q first; none where there are no cubes."""
    if grid.mortar is None:
        return ()
    q_k, datum_c = grid.mortar.q_k.taken, grid.mortar.datum_c.taken
    by_age = () if q_k is None else (MaturitySetting("equivalent age", q_k, grid.reference_c),)
    by_datum = () if datum_c is None else (MaturitySetting("temperature-time", datum_c, grid.reference_c),)
    return (*by_age, *by_datum)


class BreakMaturity:
    """Maturities of breaks from the records that serve them."""

    def __init__(self, curing_records: Iterable[CuringRecord], standard_curing_c: float | None) -> None:
        self._standard_c = standard_curing_c
        self._summed: dict[tuple[object, ...], FloatArray] = {}  # the same ages in thousands of batches
        self._records: dict[tuple[str, str], list[CuringRecord]] = {}
        for record in curing_records:
            self._records.setdefault((record.batch, record.curing), []).append(record)

    def record_for(self, item: Break) -> CuringRecord | None:
        """Find the record of a break: by placement, or the only one its batch and curing have."""
        records = self._records.get((item.batch, item.curing), [])
        for record in records:
            if record.placement == item.placement:
                return record
        return records[0] if len(records) == 1 else None

    def has_maturity(self, item: Break) -> bool:
        """Whether the break has a maturity: a record, or standard curing at a stated temperature."""
        return self.record_for(item) is not None or (item.curing == "standard" and self._standard_c is not None)

    def cell_maturity(self, items: Sequence[Break], settings: Sequence[MaturitySetting]) -> FloatArray:
        """Mean maturity of replicates [h at the reference temperature] under each setting, ``(n_settings,)``."""
        values = np.zeros(len(settings))
        by_record: dict[int, tuple[CuringRecord | None, str, list[float]]] = {}
        for item in items:
            record = self.record_for(item)
            by_record.setdefault(id(record), (record, item.curing, []))[2].append(item.tested_h)
        for record, curing, tested in by_record.values():
            if record is None:
                values += self._without_record(tuple(tested), tuple(settings))
                continue
            values += self._with_record(record, curing, tuple(tested), tuple(settings))
        return values / len(items)

    def _with_record(
        self, record: CuringRecord, curing: str, tested_h: tuple[float, ...], settings: tuple[MaturitySetting, ...]
    ) -> FloatArray:
        """Summed maturity of replicates that one record serves, ``(n_settings,)``."""
        key = (id(record), curing, tested_h, settings)  # a cell is asked for as a whole and as parted for its checks
        if key not in self._summed:
            continued_c = self._standard_c if curing == "standard" else None
            found = maturities_at(
                np.array(tested_h), record.elapsed_h, record.temperature_c, settings, continued_c=continued_c
            )
            self._summed[key] = np.array([one.sum() for one in found])
        return self._summed[key]

    def _without_record(self, tested_h: tuple[float, ...], settings: tuple[MaturitySetting, ...]) -> FloatArray:
        """Summed maturity at the stated curing temperature; by age nothing else is needed, ``(n_settings,)``."""
        key = (tested_h, settings)
        if key not in self._summed:
            ages_h = np.array(tested_h)
            sums = np.zeros(len(settings))
            for m, setting in enumerate(settings):
                if setting.method == "age":
                    sums[m] = ages_h.sum()
                elif self._standard_c is not None:
                    sums[m] = constant_maturity(ages_h, self._standard_c, setting).sum()
            self._summed[key] = sums
        return self._summed[key]
