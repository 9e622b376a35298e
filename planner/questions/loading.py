"""A plan with all its files, as every question takes it; what reads them loads when it is first needed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.terms.plan.settings import Plan


def load_plan(path: str | Path, *, allow_outside: bool = False) -> Plan:
    """Read a plan with its break, temperature and batch files.

    Parameters
    ----------
    path
        The plan, a TOML file. Paths in it are relative to its folder.
    allow_outside
        Whether files outside that folder may be read.

    Raises
    ------
    InputError
        With every problem of all the files that could be found in one go.
    """
    from planner.read import load_plan as load

    return load(path, allow_outside=allow_outside)


def plan_of(plan: Plan | str | Path) -> Plan:
    """The plan itself, read where its path is given."""
    return load_plan(plan) if isinstance(plan, str | Path) else plan
