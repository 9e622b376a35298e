"""Points for the pictures: growth of the prior batches, held-out checks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from statistics import fmean

import numpy as np

from planner.evidence import Cells
from planner.evidence.maturity_grid import BreakMaturity
from planner.resampling import ErrorMatrix, Scoring, pair_errors
from planner.terms.maturity import MaturitySetting
from planner.terms.plan.settings import Settings
from planner.terms.records import Break, Records
from planner.terms.results.check_condition import CheckCondition, TruthSource
from planner.terms.results.recommended.plotted_points import GrowthPoint, HeldOutPoint
from planner.verdict.selection.nested import Nested

MOST_LATER_POINTS = 10_000  # more than a picture can show: all pairs of 100 batches


def growth_points(cells: Cells, maturity: MaturitySetting) -> tuple[GrowthPoint, ...]:
    """Cell means over maturity under one setting, standard-cured and checks alike.

    What a strength that is waited for is checked by was read between means and is none itself: there the site-cured
    means of every age stand instead.
    """
    setting = cells.settings.index(maturity)
    points: dict[tuple[str, str, float], GrowthPoint] = {}
    for view, batch in enumerate(cells.views.batch):
        for i in np.flatnonzero(np.isfinite(cells.views.mean_mpa[view])):
            age_h = float(cells.ages_h[i])
            points.setdefault(
                (batch, "standard", age_h),
                GrowthPoint(
                    batch=batch,
                    curing="standard",
                    age_h=age_h,
                    maturity_h=float(cells.views.maturity_h[setting, view, i]),
                    strength_mpa=float(cells.views.mean_mpa[view, i]),
                    n_specimens=int(cells.views.n_specimens[view, i]),
                ),
            )
    for k, condition in enumerate(cells.checks.condition):
        if cells.target_waits_mpa[cells.checks.target[k]] is None:
            batch = cells.views.batch[cells.checks.view[k]]
            age_h = cells.target_ages_h[cells.checks.target[k]]
            points.setdefault(
                (batch, str(condition), age_h),
                GrowthPoint(
                    batch=batch,
                    curing=str(condition),
                    age_h=age_h,
                    maturity_h=float(cells.checks.maturity_h[setting, k]),
                    strength_mpa=float(cells.checks.truth_mpa[k]),
                    n_specimens=int(cells.checks.n_specimens[k]),
                ),
            )
    if any(strength_mpa is not None for strength_mpa in cells.target_waits_mpa):
        for point in _companions(cells, setting):
            points.setdefault((point.batch, point.curing, point.age_h), point)
    return tuple(points.values())


def _companions(cells: Cells, setting: int) -> Iterator[GrowthPoint]:
    found = cells.site_cured
    for k, (view, place) in enumerate(zip(found.view, found.place, strict=True)):
        yield GrowthPoint(
            batch=cells.views.batch[view],
            curing=str(CheckCondition(TruthSource.SITE_CURED, place)),
            age_h=float(found.age_h[k]),
            maturity_h=float(found.maturity_h[setting, k]),
            strength_mpa=float(found.truth_mpa[k]),
            n_specimens=int(found.n_specimens[k]),
        )


def recorded_points(records: Records, settings: Settings, maturity: MaturitySetting) -> tuple[GrowthPoint, ...]:
    """The same from the breaks alone, where the cells judged on are drawn ones."""
    break_maturity = BreakMaturity(records.curing_records, settings.prior.standard_curing_c)
    held: dict[tuple[str, str, float], list[Break]] = defaultdict(list)
    for item in records.breaks:
        if maturity.method == "age" or break_maturity.has_maturity(item):
            held[(item.batch, item.curing, item.age_h)].append(item)
    return tuple(
        GrowthPoint(
            batch=batch,
            curing=curing,
            age_h=age_h,
            maturity_h=float(break_maturity.cell_maturity(items, (maturity,))[0]),
            strength_mpa=fmean(item.strength_mpa for item in items),
            n_specimens=len(items),
        )
        for (batch, curing, age_h), items in held.items()
    )


def held_out_points(cells: Cells, nested: Nested | None) -> tuple[HeldOutPoint, ...]:
    """What the rule predicted without each batch, and what its companions broke at."""
    if nested is None:
        return ()
    return tuple(
        HeldOutPoint(
            batch=cells.views.batch[cells.checks.view[k]],
            target_age_h=cells.target_ages_h[cells.checks.target[k]],
            predicted_mpa=float(cells.checks.truth_mpa[k] * (1.0 + nested.shown.error[k])),
            actual_mpa=float(cells.checks.truth_mpa[k]),
            condition=str(condition),
        )
        for k, condition in enumerate(cells.checks.condition)
        if np.isfinite(nested.shown.error[k])
    )


def later_points(cells: Cells, scoring: Scoring, matrix: ErrorMatrix, row: int) -> tuple[HeldOutPoint, ...]:
    """What one joint choice read with the curve of every batch on every other of its mix; of many, an even choice."""
    pairs = pair_errors(cells, scoring, matrix.choices, matrix.choice_of(row), matrix.joint_of(row))
    if pairs is None:
        return ()
    if len(pairs.error) > MOST_LATER_POINTS:
        pairs = pairs.take(np.linspace(0, len(pairs.error) - 1, MOST_LATER_POINTS).astype(np.int64))
    return tuple(
        HeldOutPoint(
            batch=cells.views.batch[cells.checks.view[k]],
            target_age_h=cells.target_ages_h[cells.checks.target[k]],
            predicted_mpa=float(cells.checks.truth_mpa[k] * (1.0 + error)),
            actual_mpa=float(cells.checks.truth_mpa[k]),
            condition=str(cells.checks.condition[k]),
            trial_batch=pairs.batches[int(trial)],
        )
        for k, error, trial in zip(pairs.check.tolist(), pairs.error.tolist(), pairs.calibrated_on, strict=True)
    )
