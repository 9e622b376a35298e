"""The reading door: break file, temperature file and plan file in, one checked plan out.

Every complaint names file, row and column, what was given and what to do; all of them at once.
"""

from __future__ import annotations

from planner.read.door import check_plan, load_plan
from planner.read.later_records import load_later
from planner.read.parsing.schedule_text import parse_schedule
from planner.read.tidy import tidy_tables

__all__ = ["check_plan", "load_later", "load_plan", "parse_schedule", "tidy_tables"]
