"""Honest figures of what a restriction allows: RMS, share inside, later pours. Closed form, no draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.resampling import Scoring
from planner.resampling.errors import arithmetic
from planner.terms.results.recommended.validation_figures import NextBatchVerdict
from planner.verdict.validation.next_batch import next_batch_verdict
from planner.verdict.validation.restricted import AtChecks, FoldTable, Restricted, later_errors


@dataclass(frozen=True, slots=True)
class Figures:
    """Of errors at checks, each unit by a pick that had not seen it."""

    rms: float  # against true strength, floored at what the specimens' scatter alone gives
    level: float  # its square before the floor; can be negative
    variance: float  # mean variance of the schedule's own specimens
    within_tolerance: float  # share of units with every target inside


def figures_at(scoring: Scoring, at: AtChecks) -> Figures:
    """Figures by the normal law N(e, v) at every check, narrowed to the level as the shown choices are."""
    units = np.unique(scoring.unit[np.isfinite(at.error)])
    error, variance, prior = (np.nan_to_num(column) for column in (at.error, at.variance, at.prior_variance))
    level = float(scoring.level(error, variance, prior)[units].mean())
    floor = float(scoring.by_unit(variance)[units].mean())
    square = arithmetic.floored_square(level, floor)
    bias = float(scoring.by_unit(error)[units].mean())
    factor = arithmetic.narrowing(square, float(scoring.by_unit(error**2 + variance)[units].mean()), bias)
    inside = arithmetic.share_of_normal_units(
        arithmetic.narrowed(error, bias, factor),
        factor * np.sqrt(variance),
        scoring.tolerance,
        np.where(np.isfinite(at.error), scoring.check_weight, 0.0),
        scoring.unit,
        scoring.target,
    )
    return Figures(float(np.sqrt(square)), level, floor, inside)


def later_verdict(table: FoldTable, restricted: Restricted, own: Figures) -> NextBatchVerdict | None:
    """The same picks on a later pour; None without two batches of one mix."""
    errors = later_errors(table, restricted)
    if errors is None or errors.n_batches < 2:
        return None
    return next_batch_verdict(errors, table.scoring, own_level=own.level, own_rms=own.rms)
