"""A new batch, calibrated by the rule and read on its own concrete."""

from __future__ import annotations

import numpy as np

from planner.evidence import Cells
from planner.resampling import Scoring, figures_of
from planner.resampling.errors import arithmetic
from planner.resampling.errors.arithmetic import BOUND_CONFIDENCE, FEWEST_FOR_BOUNDS
from planner.terms.arrays import FloatArray
from planner.terms.results.recommended.rated_choice import ErrorFigures
from planner.terms.results.recommended.validation_figures import OwnBatchVerdict, TargetVerdict
from planner.verdict.selection.nested import Nested
from planner.verdict.selection.tie_rule import BootstrapVerdict
from planner.verdict.statistics.bootstrap_weights import MOST_EXACT
from planner.verdict.statistics.coverage_bounds import share_inside_lower, share_inside_lower_free
from planner.verdict.statistics.tolerance_bounds import true_rms_upper_bound


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
    is_rms_bounded = is_bounded and not scoring.is_by_mix
    n_missed = int(np.sum(np.abs(nested.signed) > scoring.tolerance))
    floor = float(np.mean(scoring.by_unit(np.nan_to_num(nested.shown.schedule_variance))[nested.units]))
    return OwnBatchVerdict(
        apparent_rms=apparent.rms,
        nested_rms=arithmetic.floored_rms(nested.level, nested.variance),
        bootstrap_rms=None if bootstrap is None else arithmetic.floored_rms(bootstrap.mean_square, floor),
        bootstrap_terms=0 if bootstrap is None else bootstrap.n_worlds,
        is_bootstrap_exact=bootstrap is not None and scoring.n_units <= MOST_EXACT,
        rms_upper_95=upper_bound(cells, scoring, nested) if is_rms_bounded else None,
        rms_measured=figures.rms_measured,
        nested_p80_abs=order_quantile(np.abs(nested.signed), 0.8),
        within_tolerance=figures.within_tolerance,
        within_tolerance_lower_95=share_lower(nested.signed, scoring),
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
        verdicts.append(
            TargetVerdict(
                age_h=age_h,
                nested_rms=figures.rms,
                rms_upper_95=upper_bound(cells, scoring, nested, target=target)
                if len(nested.units) >= FEWEST_FOR_BOUNDS and not scoring.is_by_mix
                else None,
                within_tolerance=figures.within_tolerance,
                over_predicted_beyond_tolerance=figures.over_predicted_beyond_tolerance,
                next_batch_rms=next_batch_rms.get(target),
            )
        )
    return tuple(verdicts)


def share_lower(signed: FloatArray, scoring: Scoring) -> float | None:
    """Lower 95 % bound on the share inside: by a normal law, of mixes by their number alone; None with fewer than 3."""
    if len(signed) < FEWEST_FOR_BOUNDS:
        return None
    if scoring.is_by_mix:
        return share_inside_lower_free(len(signed), int(np.sum(np.abs(signed) > scoring.tolerance)))
    return share_inside_lower(signed, tolerance=scoring.tolerance)


def upper_bound(cells: Cells, scoring: Scoring, nested: Nested, *, target: int | None = None, n_more: int = 0) -> float:
    """Upper 95 % bound on the RMS against true strength; the scatter of the companions is not part of it.

    Parameters
    ----------
    n_more
        Batches more, like those judged.
    """
    shown = nested.shown

    def judged(values: FloatArray) -> FloatArray:
        return scoring.by_unit(np.nan_to_num(values), target=target)[nested.units]

    variance = judged(shown.schedule_variance)
    level = judged(arithmetic.level(shown.error, shown.schedule_variance, shown.prior_variance, scoring.truth_variance))
    return true_rms_upper_bound(
        arithmetic.floored_rms(level, variance),
        noise=float(np.mean(judged(scoring.truth_variance))),
        noise_share=_noise_share(cells, scoring, nested, target),
        n_batches=len(nested.units) + n_more,
        confidence=BOUND_CONFIDENCE,
    )


def _noise_share(cells: Cells, scoring: Scoring, nested: Nested, target: int | None) -> float:
    """What is left of a unit's truth noise after averaging its checks, mean over the units judged.

    Checks on the same specimens (ways of halving one cell) count as one.
    """
    weights: dict[tuple[int, str, int, str], float] = {}
    for k, view in enumerate(cells.checks.view):
        unit, at = int(scoring.unit[k]), int(scoring.target[k])
        share = scoring.target_weights[at] if target is None else float(at == target)
        key = (unit, cells.views.batch[view], at, str(cells.checks.condition[k]))
        weights[key] = weights.get(key, 0.0) + share * float(scoring.weight[k])
    judged = set(nested.units.tolist())
    return sum(weight**2 for key, weight in weights.items() if key[0] in judged) / len(judged)


def order_quantile(values: FloatArray, share: float) -> float:
    """The smallest value that a new one stays below with at least this chance: order statistic B + 1."""
    ordered = np.sort(values)
    position = int(np.ceil(share * (len(ordered) + 1))) - 1
    return float(ordered[min(position, len(ordered) - 1)])
