"""Every column of every table that a plan can name, from the lists that the readers match headings with."""

from __future__ import annotations

from collections.abc import Mapping

from planner.read.breaks.break_columns import BREAK_COLUMNS
from planner.read.casting.batch_file import BATCH_COLUMNS
from planner.read.mortar_file import MORTAR_COLUMNS
from planner.read.tabular.headings import Column
from planner.read.temperatures.temperature_file import TEMPERATURE_COLUMNS

TABLE_COLUMNS: Mapping[str, Mapping[str, Column]] = {
    "breaks": BREAK_COLUMNS,
    "temperatures": TEMPERATURE_COLUMNS,
    "batches": BATCH_COLUMNS,
    "mortar": MORTAR_COLUMNS,
}  # by the key of [prior], or of [maturity], that names the table
