"""One small table of schedules with every batch left out in turn, and helpers to take it apart."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from planner.choices import enumerate_choices, offered_ages
from planner.evidence import tabulate
from planner.read import load_plan
from planner.resampling import Scoring, joints_of
from planner.terms.plan.settings import Plan
from planner.verdict.validation.restricted import FoldTable, fold_table

PLAN = Path(__file__).parents[2] / "scenarios" / "tunnel-segments" / "plan.toml"


@cache
def small_plan() -> Plan:
    """The tunnel segments with at most four ages and 10 specimens: a few hundred schedules."""
    plan = load_plan(PLAN)
    settings = plan.settings
    return replace(
        plan,
        settings=replace(
            settings,
            choices=replace(settings.choices, most_ages=4),
            budget=replace(settings.budget, specimens=10),
            curves=("hyperbolic", "logarithmic", "piecewise linear in log age"),
        ),
    )


@cache
def small_table() -> tuple[FoldTable, np.ndarray]:
    """Its table, and the positions of the offered ages."""
    plan = small_plan()
    settings = plan.settings
    cells = tabulate(plan.records, settings)
    offered = offered_ages(cells.ages_h, cells.is_candidate, cells.typical_mpa(), settings.choices, settings.budget)
    choices = enumerate_choices(cells.ages_h, offered, settings.choices, settings.budget)
    joints = joints_of(settings.curves, cells.settings)
    return fold_table(cells, choices, joints, Scoring.of(cells, settings.target)), offered
