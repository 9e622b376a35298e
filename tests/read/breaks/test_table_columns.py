"""``check --columns``: every column that is read, with what it holds."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from planner.questions.asking import table_columns
from planner.read.table_columns import TABLE_COLUMNS

# Written down here, not read from the program: what users may have in their tables.
PROMISED = {
    "breaks": "batch mix specimen geometry curing age_h age_d age strength_mpa strength_psi strength_ksi load_kn "
    "load_lbf diameter_mm side_mm height_mm tested_at placement void",
    "temperatures": "batch curing elapsed_h time temperature_c temperature_f sensor placement",
    "batches": "batch mix cast_at age_zero",
}


@pytest.mark.parametrize("width", ["80", "160"])
def test_every_column_is_listed_with_what_it_holds(width: str) -> None:
    program = [sys.executable, "-m", "planner.cli.main", "check", "--columns"]
    done = subprocess.run(program, capture_output=True, text=True, check=True, env=os.environ | {"COLUMNS": width})
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= int(width)
    for table, promised in PROMISED.items():
        begins = next(n for n, line in enumerate(lines) if f"[prior] {table} " in line)
        ends = next((n for n in range(begins + 1, len(lines)) if "[prior]" in lines[n]), len(lines))
        found = {line.split()[0]: line.split()[1:] for line in lines[begins + 1 : ends] if len(line.split()) > 1}
        for column in promised.split():
            assert column in found
            assert TABLE_COLUMNS[table][column].note.split()[0] in found[column]


def test_the_answer_holds_other_headings_too() -> None:
    document = table_columns().document
    assert document["breaks"]["strength_mpa"]["also"] == ["strength_in_mpa", "compressive_strength_mpa", "fc_mpa"]
    assert set(document) == {"breaks", "temperatures", "batches", "mortar"}


def test_no_two_columns_of_a_table_share_a_heading() -> None:
    for columns in TABLE_COLUMNS.values():
        words = [word for name, column in columns.items() for word in (name, *column.also)]
        assert len(words) == len(set(words))
