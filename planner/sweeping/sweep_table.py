"""The table of a sweep: as comma-separated text and on the screen."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import asdict

from planner.report.text import words
from planner.report.text.blocks import Column, Section, Table
from planner.sweeping.sweep_rows import COLUMNS, SweepRow

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
        "RMS of the rule on a batch that did not choose, its upper 95 % bound, and RMS on a later pour read off"
        " this curve."
    )
    if n_failed:
        note += f" {n_failed} of {len(rows)} lines have no answer."
    columns = (
        Column(heading="plan"),
        Column(heading="target"),
        Column(heading="recommended"),
        Column(heading="specimens", is_number=True),
        Column(heading="RMS", is_number=True),
        Column(heading="upper 95 %", is_number=True),
        Column(heading="later pour", is_number=True),
    )
    told = tuple(
        (
            words.clean(row.plan, limit=40),
            row.target,
            row.schedule if row.exit == 0 else words.clean(row.problem, limit=160),
            words.NONE if row.n_specimens is None else str(row.n_specimens),
            words.share(row.nested_rms),
            words.upper_bound(row.nested_rms_upper_95),
            words.share(row.next_batch_rms),
        )
        for row in rows
    )
    return Section(heading="Plans", blocks=(Table(columns=columns, rows=told, note=note),))
