"""The demo programme hides its true temperature sensitivity; the search must find it again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.choices import choice_set
from planner.evidence import tabulate
from planner.read import load_plan
from planner.resampling import Scoring, joints_of
from planner.resampling.errors import arithmetic
from planner.resampling.errors.sweeps import sweep_sets, variance_with
from planner.terms.plan.settings import MaturityGrid
from scenarios.catalogue import RUNWAY_PANELS

PLAN = Path(__file__).parents[2] / "scenarios" / "runway-panels" / "plan.toml"
FINE_Q_K = tuple(np.arange(3500.0, 6001.0, 100.0))
# 4, 6, 8, 12 h and 1, 3, 7 d: dense where the targets are, so that the curve hides no constant
AGES_H = (4.0, 6.0, 8.0, 12.0, 24.0, 72.0, 168.0)


@pytest.fixture(scope="module")
def loss_by_q():
    """Mean loss over batches for every smooth and piecewise curve at every Q, ``{curve: (n_q,)}``."""
    plan = load_plan(PLAN)
    asked = replace(plan.settings, maturity=MaturityGrid(equivalent_age_q_k=FINE_Q_K, datum_c=()))
    cells = tabulate(plan.records, asked)
    positions = [int(np.flatnonzero(cells.ages_h == age)[0]) for age in AGES_H]
    choices = choice_set(cells.ages_h, [(positions, [3] * len(positions))])
    scoring = Scoring.of(cells, asked.target)
    found: dict[str, list[float]] = {}
    for joint in joints_of(asked.curves, cells.settings):
        if joint.weighting == "relative" or joint.curve != "hyperbolic":
            swept = sweep_sets(cells, choices.set_members, choices.set_n_ages, joint)
            loss = scoring.by_unit(arithmetic.loss(swept.error, variance_with(swept.contribution, choices.specimens)))
            found.setdefault(f"{joint.curve}, {joint.weighting}", []).append(float(loss.mean()))
    return {name: np.array(losses) for name, losses in found.items()}


@pytest.mark.parametrize(
    ("curve", "within_k"),
    [
        ("hyperbolic, relative", 400.0),
        ("exponential, absolute", 400.0),
        ("exponential, relative", 400.0),
        ("logarithmic, relative", 400.0),
        # Lines between means carry the scatter of two cells at every reading; their loss is shallow below.
        ("piecewise linear, absolute", 900.0),
        ("piecewise linear in log age, absolute", 900.0),
    ],
)
def test_the_lowest_loss_is_near_the_true_constant(loss_by_q, curve, within_k):
    # Found 4600, 4800, 4500, 4800, 3900 and 4000 K. Nine batches with twelve site conditions of three
    # cylinders can hardly do better: 5 % of scatter in one difference is some 900 K of Q at 12 C.
    assert RUNWAY_PANELS.law.q_k == 4700.0
    best = FINE_Q_K[int(np.argmin(loss_by_q[curve]))]
    assert abs(best - 4700.0) <= within_k


def test_no_edge_of_the_grid_is_as_good(loss_by_q):
    for curve, losses in loss_by_q.items():
        if len(losses) == len(FINE_Q_K):
            assert min(losses[0], losses[-1]) > 1.02 * losses.min(), curve
