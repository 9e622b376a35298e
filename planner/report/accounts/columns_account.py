"""The columns of the tables that a plan names, to read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.report.text.blocks import Column, Section, Table

NOTES = {
    "breaks": "One row per specimen. Needed: batch, an age or the time of the break, a strength or a load with sizes.",
    "temperatures": "One row per reading. Needed: batch, an elapsed time or a clock time, a temperature.",
    "batches": "One row per batch. Needed: batch.",
    "mortar": "One row per cube, of at least three temperatures. Needed: an age, the temperature, a strength.",
}
NAMED_IN = {"mortar": "maturity"}  # the others: prior


def columns_account(tables: Mapping[str, Mapping[str, tuple[str, Sequence[str]]]]) -> tuple[Section, ...]:
    """A section for each table: heading, what the column holds, other headings that mean the same.

    Parameters
    ----------
    tables
        By the key of the plan that names the table, every column with its note and its other headings.
    """
    headings = (Column(heading="column"), Column(heading="holds"), Column(heading="also read", is_wide_only=True))
    return tuple(
        Section(
            heading=f"Columns of the table that [{NAMED_IN.get(key, 'prior')}] {key} names",
            blocks=(
                Table(
                    columns=headings,
                    rows=tuple((name, note, ", ".join(also)) for name, (note, also) in columns.items()),
                    note=NOTES[key] + " Order, capitals, blanks and underscores do not matter; other columns are kept.",
                ),
            ),
        )
        for key, columns in tables.items()
    )
