"""Programmes as the comma-separated files the planner reads."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from scenarios.catalogue import Scenario
from scenarios.draws import BreakRow, Programme, ReadingRow, draw_records

SPARSE_AGES_H = (24.0, 72.0, 168.0, 672.0)
SPARSE_BATCHES = ("T1", "T2", "T3")


def write_programme(
    folder: Path | str,
    scenario: Scenario | str,
    seed: int,
    n_batches: int | None = None,
    *,
    has_oddities: bool = False,
) -> Programme:
    """Write ``breaks.csv`` and ``temperatures.csv`` of one programme; see `draw_records`."""
    programme = draw_records(scenario, seed, n_batches, has_oddities=has_oddities)
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    write_breaks(target / "breaks.csv", programme.breaks)
    write_readings(target / "temperatures.csv", programme.readings)
    return programme


def write_sparse(folder: Path | str, programme: Programme) -> None:
    """Write the poor version of a programme: three batches, standard curing, nothing younger than 1 d."""
    target = Path(folder)
    write_breaks(
        target / "breaks-sparse.csv",
        (
            row
            for row in programme.breaks
            if row.batch in SPARSE_BATCHES and row.curing == "standard" and row.age_h in SPARSE_AGES_H
        ),
    )
    write_readings(
        target / "temperatures-sparse.csv",
        (row for row in programme.readings if row.batch in SPARSE_BATCHES and row.curing == "standard"),
    )


def write_breaks(path: Path, rows: Iterable[BreakRow]) -> None:
    """Write break rows, strengths with one decimal."""
    _write(path, BreakRow._fields, ((*row[:5], f"{row[5]:g}", f"{row[6]:.1f}", *row[7:]) for row in rows))


def write_readings(path: Path, rows: Iterable[ReadingRow]) -> None:
    """Write temperature rows, temperatures with one decimal."""
    _write(path, ReadingRow._fields, ((*row[:3], f"{row[3]:g}", f"{row[4]:.1f}") for row in rows))


def _write(path: Path, header: tuple[str, ...], rows: Iterable[tuple[object, ...]]) -> None:
    # One line end on every machine: the files are compared byte for byte.
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(header)
    table.writerows(rows)
    path.write_bytes(text.getvalue().encode("utf-8"))
