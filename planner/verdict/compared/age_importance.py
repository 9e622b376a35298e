"""What each candidate age does, and what fewer specimens would do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.resampling import ErrorMatrix, Scoring
from planner.resampling.errors.arithmetic import floored_rms
from planner.resampling.errors.closed_form import closed_figures
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.plan.settings import CurveName
from planner.terms.results.recommended.design_figures import AgeRole
from planner.terms.results.recommended.plotted_points import FrontierPoint
from planner.terms.schedule import Schedule
from planner.verdict.selection.rule import Rule, Rung
from planner.verdict.selection.tie_rule import BootstrapVerdict
from planner.verdict.statistics.isotonic import falling

MOST_POINTS = 12  # of the frontier


@dataclass(frozen=True, slots=True, eq=False)
class Variants:
    """The chosen schedule with one age dropped or added."""

    matrix: ErrorMatrix  # one choice for each
    ages: tuple[int, ...]  # which age that is, as a position


def age_roles(
    cells: Cells,
    scoring: Scoring,
    rule: Rule,
    chosen: int,
    variants: Variants | None,
    *,
    offered: IntArray,
    inclusion: FloatArray,
    required_h: tuple[float, ...],
) -> tuple[AgeRole, ...]:
    """How often each age wins, and the error without it or with it (apparent, closed form).

    Parameters
    ----------
    chosen
        Row of the error matrix.
    offered
        Positions of the ages that may be broken.
    inclusion
        How often each recorded age is in the best schedule, ``(n_recorded,)``.
    """
    held = set(rule.matrix.choices.row(rule.matrix.choice_of(chosen))[0].tolist())
    changed: dict[int, float] = {}
    if variants is not None:
        figures = closed_figures(
            cells,
            scoring,
            variants.matrix.choices,
            np.arange(variants.matrix.n_searched),
            variants.matrix.best_joint,
            variants.matrix.joints,
        )
        changed = {
            age: float(rms)
            for age, rms, score in zip(variants.ages, figures.rms, variants.matrix.score, strict=True)
            if np.isfinite(score) and np.isfinite(rms)
        }
    drawn_mpa = cells.typical_mpa() if cells.checked_against == "drawn" else None
    return tuple(
        AgeRole(
            age_h=float(cells.ages_h[age]),
            inclusion=float(inclusion[age]),
            rms_if_dropped=changed.get(int(age)) if int(age) in held else None,
            rms_if_added=None if int(age) in held else changed.get(int(age)),
            is_required=any(np.isclose(cells.ages_h[age], wanted) for wanted in required_h),
            drawn_mpa=None if drawn_mpa is None else float(drawn_mpa[age]),
        )
        for age in offered
    )


def age_inclusion(rule: Rule, bootstrap: tuple[BootstrapVerdict, IntArray] | None, chosen: int) -> FloatArray:
    """How often each recorded age is in the recommended schedule over resampled sets of batches."""
    choices: ChoiceSet = rule.matrix.choices
    held = choices.set_has_age().astype(np.float64)
    if bootstrap is None:
        return np.asarray(held[choices.set_of[rule.matrix.choice_of(chosen)]])
    verdict, rows = bootstrap
    return np.asarray(verdict.inclusion @ held[choices.set_of[rule.matrix.row_choice[rows]]])


def inclusion_over_units(rule: Rule) -> FloatArray:
    """How often each age is in the schedule of lowest loss on one unit alone, as if that unit were the mix."""
    matrix = rule.matrix
    held = matrix.choices.set_has_age().astype(np.float64)
    winners = np.argmin(np.where(np.isfinite(matrix.loss), matrix.loss, np.inf), axis=0)
    return np.asarray(held[matrix.choices.set_of[matrix.row_choice[winners]]].mean(axis=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class _RungErrors:
    """One rung with its errors as they are found."""

    schedule: Schedule
    curve: CurveName
    rms: float
    nested_rms: float | None  # None where nothing can be left out
    cost: float | None


def frontier(rule: Rule, rungs: Sequence[Rung], cost: FloatArray | None) -> tuple[FrontierPoint, ...]:
    """The rule's choice among schedules with at most so many specimens, with its apparent and nested error."""
    matrix = rule.matrix
    if len(rungs) > MOST_POINTS:
        rungs = [rungs[at] for at in np.unique(np.linspace(0, len(rungs) - 1, MOST_POINTS).astype(int))]
    points: list[_RungErrors] = []
    for rung in rungs:
        pick, folds = rung.pick, rung.folds
        which = matrix.choice_of(pick.best)
        joint = matrix.joint_of(pick.best)
        levels = [float(matrix.level[fold.best, unit]) for unit, fold in folds.items()]
        floors = [float(matrix.variance[fold.best, unit]) for unit, fold in folds.items()]
        own = np.isfinite(matrix.loss[pick.best])
        schedule = matrix.choices.schedule(which)
        if points and points[-1].schedule == schedule and points[-1].curve == joint.curve:
            continue
        points.append(
            _RungErrors(
                schedule=schedule,
                curve=joint.curve,
                rms=floored_rms(matrix.level[pick.best, own], matrix.variance[pick.best, own]),
                nested_rms=floored_rms(np.array(levels), np.array(floors)) if levels else None,
                cost=None if cost is None or not np.isfinite(cost[which]) else float(cost[which]),
            )
        )
    return tuple(
        FrontierPoint(
            n_specimens=point.schedule.n_specimens,
            schedule=point.schedule,
            rms=point.rms,
            nested_rms=nested_rms,
            cost=point.cost,
            curve=point.curve,
        )
        for point, nested_rms in zip(points, _never_rising([point.nested_rms for point in points]), strict=True)
    )


def _never_rising(nested: list[float | None]) -> list[float | None]:
    """The same errors; where more specimens seem to err more on batches left out, neighbours are pooled."""
    known = [rms for rms in nested if rms is not None]
    if len(known) < len(nested) or not known:
        return nested
    return [float(rms) for rms in np.sqrt(falling(np.square(known)))]
