"""The reading door: break file, temperature file and plan file in, one checked plan out.

Every complaint names file, row and column, what was given and what to do; all of them at once.
"""

from __future__ import annotations

from .door import check_plan, load_plan
from .schedules import parse_schedule
from .tidy import tidy

__all__ = ["check_plan", "load_plan", "parse_schedule", "tidy"]
