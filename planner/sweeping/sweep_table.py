"""The table of a sweep: as comma-separated text and on the screen."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import asdict

from planner.report.text import words
from planner.report.text.blocks import Bullets, Column, Paragraph, Section, Table
from planner.sweeping.sweep_rows import COLUMNS, SweepRow

LONGEST_PATH = 24  # characters; sweep.csv has it whole
FORMULA_STARTS = ("=", "+", "-", "@")


def sweep_csv(rows: Sequence[SweepRow]) -> str:
    """The table as comma-separated text; text that a spreadsheet would run is made text by a quote."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([_cell(value) for value in asdict(row).values()])
    return stream.getvalue()


def _cell(value: str | float | None) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        return f"{value:.6g}"
    text = words.clean(value)
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def sweep_section(rows: Sequence[SweepRow]) -> Section:
    """A line for each plan and target."""
    n_failed = sum(row.exit != 0 for row in rows)
    note = (
        "RMS: of the rule on a batch that did not choose, its own concrete, with the upper 95 % bound; later "
        "pour: of the "
        "same curve on another batch; inside: share within the tolerance, later pours where they are known."
    )
    if n_failed:
        note += f" {n_failed} of {len(rows)} lines have no answer."
    asked = _table(
        rows,
        (("within", True), ("wanted", True), ("recommended", False), ("specimens", True), ("cost", True)),
        lambda row: (
            words.whole_share(row.tolerance),
            words.whole_share(row.assurance),
            row.schedule if row.exit == 0 else "no answer",
            words.NONE if row.n_specimens is None else str(row.n_specimens),
            words.money(row.cost, row.currency),
        ),
    )
    read = _table(
        [row for row in rows if row.exit == 0],
        (("evidence", False), ("RMS", True), ("upper 95 %", True), ("later pour", True), ("inside", True)),
        lambda row: (
            row.evidence,
            words.share(row.nested_rms),
            words.upper_bound(row.nested_rms_upper_95),
            words.share(row.next_batch_rms),
            words.whole_share(_share_inside(row)),
        ),
        note=note,
    )
    failed = Bullets(
        tuple(f"{words.clean(row.plan)}: {words.clean(row.problem, limit=160)}" for row in rows if row.exit != 0)
    )
    problems = (failed,) if failed.items else ()
    return Section(heading="Plans", blocks=(asked, *problems, *((read,) if read.rows else (Paragraph(note),))))


def _table(
    rows: Sequence[SweepRow],
    headings: Sequence[tuple[str, bool]],
    cells: Callable[[SweepRow], tuple[str, ...]],
    *,
    note: str = "",
) -> Table:
    """One line a row, its plan and target first."""
    columns = (("plan", False), ("target", False), *headings)
    return Table(
        columns=tuple(Column(heading=text, is_number=is_number) for text, is_number in columns),
        rows=tuple((_end_of(words.clean(row.plan)), row.target, *cells(row)) for row in rows),
        note=note,
    )


def _end_of(path: str) -> str:
    """A path that would crowd the table out, by its end: that is where plans differ."""
    return path if len(path) <= LONGEST_PATH else "…" + path[1 - LONGEST_PATH :].lstrip()


def _share_inside(row: SweepRow) -> float | None:
    """On later pours where they are known, else on the own batch."""
    return row.within_tolerance if row.next_batch_within_tolerance is None else row.next_batch_within_tolerance
