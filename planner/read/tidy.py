"""Records written out in the long form, for a person to confirm what was understood."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterable, Sequence

from planner.terms.plan.settings import Plan
from planner.terms.records import Break, Records

BREAK_HEADINGS = (
    "batch", "mix", "specimen", "geometry", "curing", "placement", "age_h", "tested_h", "strength_mpa",
    "void",
)  # fmt: skip
TEMPERATURE_HEADINGS = ("batch", "curing", "placement", "elapsed_h", "temperature_c")


def tidy_tables(plan: Plan) -> dict[str, Callable[[], bytes]]:
    """Breaks and temperatures as long tables that read back to the same records, by file name, made when called."""
    records = plan.records
    tables: dict[str, Callable[[], bytes]] = {"breaks.csv": lambda: _table(*_break_table(records))}
    if records.curing_records:
        tables["temperatures.csv"] = lambda: _table(TEMPERATURE_HEADINGS, _readings(records))
    return tables


def _readings(records: Records) -> Iterable[Sequence[object]]:
    return (
        (record.batch, record.curing, record.placement, elapsed_h, temperature_c)
        for record in records.curing_records
        for elapsed_h, temperature_c in zip(record.elapsed_h.tolist(), record.temperature_c.tolist(), strict=True)
    )


def _break_table(records: Records) -> tuple[Sequence[str], Iterable[Sequence[object]]]:
    """Rows of the break table; columns that the records never had stay away, so that they are not assumed."""
    absent = {
        name
        for name, is_there in (("mix", records.has_mix_column), ("curing", records.has_curing_column))
        if not is_there
    }
    headings = [name for name in BREAK_HEADINGS if name not in absent]
    breaks = sorted((*records.breaks, *records.voided), key=lambda item: item.row or 0)
    return headings, ([_cell(item, name) for name in headings] for item in breaks)


def _cell(item: Break, name: str) -> object:
    value = getattr(item, name)
    return "" if isinstance(value, float) and math.isnan(value) else value


def _table(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(headings)
    writer.writerows(rows)
    return stream.getvalue().encode("utf-8")
