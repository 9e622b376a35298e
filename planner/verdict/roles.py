"""What each candidate age does, and what fewer specimens would do."""

from __future__ import annotations

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling import ErrorMatrix, Scoring
from planner.resampling.figures import closed_figures
from planner.terms.arrays import BoolArray, FloatArray, IntArray
from planner.terms.recommendation import AgeRole, FrontierPoint

from .batch_bootstrap import BootstrapVerdict
from .rule import Rule

MOST_POINTS = 12  # of the frontier


def age_roles(
    cells: Cells,
    scoring: Scoring,
    rule: Rule,
    offered: IntArray,
    chosen: int,
    variants: ErrorMatrix | None,
    variant_ages: list[int],
    inclusion: FloatArray,
    required_h: tuple[float, ...],
) -> tuple[AgeRole, ...]:
    """How often each age wins, and the error without it or with it (apparent, closed form).

    Parameters
    ----------
    variants, variant_ages
        The chosen schedule with one age dropped or added, and which age that is.
    inclusion
        How often each recorded age is in the winner, ``(n_recorded,)``.
    """
    held = set(rule.matrix.choices.members[rule.matrix.choice_of(chosen)].tolist())
    changed: dict[int, float] = {}
    if variants is not None:
        figures = closed_figures(
            scoring, variants.best_error, variants.best_variance, variants.best_prior_variance
        )
        is_judged = np.isfinite(variants.best_error).any(axis=1)
        changed = {
            age: float(rms)
            for age, rms, judged in zip(variant_ages, figures.rms, is_judged, strict=True)
            if judged
        }
    return tuple(
        AgeRole(
            age_h=float(cells.ages_h[age]),
            inclusion=float(inclusion[age]),
            rms_if_dropped=changed.get(int(age)) if int(age) in held else None,
            rms_if_added=None if int(age) in held else changed.get(int(age)),
            is_required=any(np.isclose(cells.ages_h[age], wanted) for wanted in required_h),
        )
        for age in offered
    )


def age_inclusion(
    rule: Rule, bootstrap: tuple[BootstrapVerdict, IntArray] | None, chosen: int
) -> FloatArray:
    """How often each recorded age is in the recommended schedule over resampled sets of batches."""
    choices: ChoiceSet = rule.matrix.choices
    held = choices.has_age().astype(np.float64)
    if bootstrap is None:
        return held[rule.matrix.choice_of(chosen)]
    verdict, rows = bootstrap
    return np.asarray(verdict.inclusion @ held[rows % rule.matrix.n_choices])


def frontier(
    rule: Rule, cells: Cells, scoring: Scoring, units: BoolArray, cost: FloatArray | None
) -> tuple[FrontierPoint, ...]:
    """The rule's choice among schedules with at most so many specimens, with its apparent and nested error."""
    matrix = rule.matrix
    n_specimens = matrix.choices.n_specimens
    counts = np.unique(n_specimens)
    if len(counts) > MOST_POINTS:
        counts = counts[np.unique(np.linspace(0, len(counts) - 1, MOST_POINTS).astype(int))]
    points: list[FrontierPoint] = []
    for most in counts:
        only = np.tile(n_specimens <= most, len(matrix.joints))
        training = rule.training(units, only=only)
        pick = rule.pick(training)
        if pick is None:
            continue
        which = matrix.choice_of(pick.best)
        joint = matrix.joint_of(pick.best)
        levels, floors = [], []
        for unit in range(scoring.n_units if scoring.n_units > 1 else 0):
            others = np.arange(scoring.n_units) != unit
            fold = rule.pick(rule.training(others & units, judged=unit, only=only))
            if fold is not None:
                levels.append(float(matrix.level[fold.best, unit]))
                floors.append(float(matrix.variance[fold.best, unit]))
        own = np.isfinite(matrix.loss[pick.best])
        apparent = max(float(matrix.level[pick.best, own].mean()), float(matrix.variance[pick.best, own].mean()))
        schedule = matrix.choices.schedule(which)
        if points and points[-1].schedule == schedule and points[-1].curve == joint.curve:
            continue
        points.append(
            FrontierPoint(
                n_specimens=schedule.n_specimens,
                schedule=schedule,
                rms=float(np.sqrt(apparent)),
                nested_rms=float(np.sqrt(max(np.mean(levels), np.mean(floors)))) if levels else None,
                cost=None if cost is None or not np.isfinite(cost[which]) else float(cost[which]),
                curve=joint.curve,
            )
        )
    return tuple(points)
