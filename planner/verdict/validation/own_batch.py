"""A new batch, calibrated by the rule and read on its own concrete."""

from __future__ import annotations

import numpy as np

from planner.evidence import Cells
from planner.resampling import Scoring, figures_of
from planner.resampling.errors import arithmetic
from planner.resampling.errors.arithmetic import BOUND_CONFIDENCE, FEWEST_FOR_BOUNDS
from planner.terms.arrays import FloatArray
from planner.terms.recommendation import ErrorFigures, OwnBatchVerdict, TargetVerdict
from planner.verdict.selection.nested import Nested
from planner.verdict.selection.tie_rule import BootstrapVerdict
from planner.verdict.statistics.bootstrap_weights import MOST_EXACT
from planner.verdict.statistics.coverage_bounds import share_inside_lower, share_inside_lower_free
from planner.verdict.statistics.tolerance_bounds import rms_upper_bound


def own_batch_verdict(
    cells: Cells,
    scoring: Scoring,
    nested: Nested,
    apparent: ErrorFigures,
    bootstrap: BootstrapVerdict | None,
) -> OwnBatchVerdict:
    """Put the nested figures beside the apparent ones, with what few batches allow to be claimed."""
    figures = figures_of(cells, scoring, nested.shown)
    n_units = len(nested.units)
    is_bounded = n_units >= FEWEST_FOR_BOUNDS
    n_missed = int(np.sum(np.abs(nested.signed) > scoring.tolerance))
    floor = float(np.mean(scoring.by_unit(np.nan_to_num(nested.shown.schedule_variance))[nested.units]))
    return OwnBatchVerdict(
        apparent_rms=apparent.rms,
        nested_rms=arithmetic.floored_rms(nested.level, nested.variance),
        bootstrap_rms=None if bootstrap is None else arithmetic.floored_rms(bootstrap.mean_square, floor),
        bootstrap_terms=0 if bootstrap is None else bootstrap.n_worlds,
        is_bootstrap_exact=bootstrap is not None and scoring.n_units <= MOST_EXACT,
        rms_upper_95=upper_bound(scoring, nested, nested.root_squares) if is_bounded else None,
        rms_measured=figures.rms_measured,
        nested_p80_abs=order_quantile(np.abs(nested.signed), 0.8),
        within_tolerance=figures.within_tolerance,
        within_tolerance_lower_95=share_inside_lower(nested.signed, tolerance=scoring.tolerance)
        if is_bounded
        else None,
        within_tolerance_lower_95_free=share_inside_lower_free(n_units, n_missed) if is_bounded else None,
        over_predicted_any=figures.over_predicted_any,
        over_predicted_beyond_tolerance=figures.over_predicted_beyond_tolerance,
        is_below_resolution=arithmetic.is_below_resolution(nested.level, nested.variance),
    )


def target_verdicts(
    cells: Cells, scoring: Scoring, nested: Nested, next_batch_rms: dict[int, float]
) -> tuple[TargetVerdict, ...]:
    """The nested figures of each target alone."""
    verdicts = []
    for target, age_h in enumerate(cells.target_ages_h):
        figures = figures_of(cells, scoring, nested.shown, target=target)
        squares = scoring.by_unit(np.nan_to_num(nested.shown.error) ** 2, target=target)[nested.units]
        verdicts.append(
            TargetVerdict(
                age_h=age_h,
                nested_rms=figures.rms,
                rms_upper_95=upper_bound(scoring, nested, np.sqrt(squares), target=target)
                if len(nested.units) >= FEWEST_FOR_BOUNDS
                else None,
                within_tolerance=figures.within_tolerance,
                over_predicted_beyond_tolerance=figures.over_predicted_beyond_tolerance,
                next_batch_rms=next_batch_rms.get(target),
            )
        )
    return tuple(verdicts)


def upper_bound(scoring: Scoring, nested: Nested, root_squares: FloatArray, *, target: int | None = None) -> float:
    """Upper 95 % bound on the RMS from nested measured errors.

    The measured errors carry the scatter of the measured truth, which is left in: it can only widen the bound. They
    come from cell means of the prior's specimens; where the schedule has fewer, the difference is added.
    """
    shown = nested.shown
    more = scoring.by_unit(np.nan_to_num(shown.schedule_variance) - np.nan_to_num(shown.prior_variance), target=target)[
        nested.units
    ]
    widened = np.sqrt(root_squares**2 + max(float(np.mean(more)), 0.0))
    return rms_upper_bound(widened, level=BOUND_CONFIDENCE)


def order_quantile(values: FloatArray, level: float) -> float:
    """The smallest value that a new one stays below with at least this chance: order statistic B + 1."""
    ordered = np.sort(values)
    position = int(np.ceil(level * (len(ordered) + 1))) - 1
    return float(ordered[min(position, len(ordered) - 1)])
