"""Error figures of single choices: by resampling for the ones that are shown, in closed form for the rest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.choices import ChoiceSet
from planner.evidence import Cells
from planner.fitting.batch_sweep import CURVE_CODES
from planner.resampling.errors import arithmetic
from planner.resampling.errors.draws import Draws
from planner.resampling.errors.kernels import resample_views
from planner.resampling.errors.scoring import Scoring
from planner.resampling.errors.sweeps import Joint, first_checks, resample_learnt, sweep_sets, variance_with
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.recommended.rated_choice import BatchError, ErrorFigures


@dataclass(frozen=True, slots=True, eq=False)
class ShownChoice:
    """One joint choice with its errors at the checks, before and after resampling."""

    error: FloatArray  # of the fit to the full cell means, (n_checks,)
    schedule_variance: FloatArray  # (n_checks,)
    prior_variance: FloatArray  # (n_checks,)
    drawn: FloatArray  # errors of the resampled fits, (n_draws, n_checks)
    linear: FloatArray  # what first order makes of the same draws, (n_draws, n_checks)
    is_extrapolating: bool


def resample_choice(cells: Cells, choices: ChoiceSet, which: int, joint: Joint, draws: Draws) -> ShownChoice:
    """Refit one choice to drawn cell means in every view."""
    members, specimens = choices.row(which)
    alone = choices.alone(which)
    swept = sweep_sets(cells, alone.set_members, alone.set_n_ages, joint)
    view = cells.checks.view
    is_fitted = np.isfinite(swept.error[0])
    # A view that one check cannot be read in is not judged at any.
    is_fitted &= np.bincount(view[~is_fitted], minlength=len(cells.views.batch))[view] == 0
    error = np.where(is_fitted, swept.error[0], np.nan)
    schedule_variance = np.where(is_fitted, variance_with(swept.contribution, alone.specimens)[0], np.nan)
    prior_variance = np.where(is_fitted, swept.prior_variance[0], np.nan)
    maturity = cells.views.maturity_h[joint.setting]
    at = np.ascontiguousarray(cells.checks.maturity_h[joint.setting])
    is_beyond = (at < maturity[view, members[0]]) | (at > maturity[view, members[-1]])
    noise = draws.mean_departures(members, specimens)
    drawn = np.empty((draws.n_draws, len(view)))
    if joint.is_learnt:
        is_beyond = (at < np.nanmin(maturity, axis=1)[view]) | (at > np.nanmax(maturity, axis=1)[view])
        resample_learnt(cells, alone.set_members, joint, noise, drawn)
    else:
        resample_views(
            CURVE_CODES[joint.curve], alone.set_members[0], maturity, cells.views.mean_mpa, joint.is_relative, noise,
            first_checks(cells), at, cells.checks.truth_mpa, drawn,
        )  # fmt: skip
    drawn[:, ~is_fitted] = np.nan
    slopes = np.sqrt(swept.contribution[0]) / cells.cv[members]
    linear = error + _first_order(noise[view], slopes, drawn - error)
    return ShownChoice(error, schedule_variance, prior_variance, drawn, linear, bool(np.any(is_beyond & is_fitted)))


def _first_order(noise: FloatArray, slopes: FloatArray, moved: FloatArray) -> FloatArray:
    """First-order answer of the error to drawn means, signs taken from the resampled fits themselves.

    Slopes are known by their squares only, so the sign of each is that of the covariance between the drawn
    mean and the refitted error. Any sign keeps the control variate unbiased.

    Parameters
    ----------
    noise, slopes, moved
        ``(n_checks, n_draws, n_ages)``, ``(n_checks, n_ages)`` and ``(n_draws, n_checks)``.
    """
    signs = np.sign(np.einsum("kda,dk->ka", noise, np.nan_to_num(moved)))
    return np.asarray(np.einsum("kda,ka->dk", noise, slopes * signs))


def figures_of(cells: Cells, scoring: Scoring, shown: ShownChoice, *, target: int | None = None) -> ErrorFigures:
    """Figures of one choice over the units that could judge it, all targets or one.

    The level is against true strength: noise of the prior specimens and of the measured truth taken out,
    noise of the schedule's own specimens put in, floored at the latter. Shares and quantiles come from
    the resampled errors, whose spread about their mean is scaled to that level.
    """
    is_used = np.isfinite(shown.error)
    if target is not None:
        is_used &= scoring.target == target
    units = scoring.unit[is_used]
    weights = scoring.weight[is_used] * (
        1.0 if target is not None else np.array(scoring.target_weights)[scoring.target[is_used]]
    )
    weights = weights / weights.sum()
    drawn = shown.drawn[:, is_used]
    # Control variate: resampled minus linearised loss, whose expectation is known exactly.
    excess = (drawn**2 - shown.linear[:, is_used] ** 2) @ weights
    columns = (shown.error[is_used], shown.schedule_variance[is_used], shown.prior_variance[is_used])
    measured = float(excess.mean() + weights @ arithmetic.level(*columns, 0.0))
    true = float(excess.mean() + weights @ arithmetic.level(*columns, scoring.truth_variance[is_used]))
    floor = float(weights @ shown.schedule_variance[is_used])
    rms = arithmetic.floored_rms(true, floor)
    bias = float(drawn.mean(axis=0) @ weights)
    second_moment = float((drawn**2).mean(axis=0) @ weights)
    narrowed = arithmetic.narrowed(drawn, bias, arithmetic.narrowing(rms**2, second_moment, bias))
    by_unit = _unit_errors(units, weights, shown.error[is_used])
    names = cells.unit_names
    worst = max(by_unit, key=lambda unit: abs(by_unit[unit]))
    over = max(by_unit, key=lambda unit: by_unit[unit])
    is_inside = np.abs(narrowed) <= scoring.tolerance
    return ErrorFigures(
        rms=rms,
        rms_measured=float(np.sqrt(max(measured, 0.0))),  # what was measured needs no floor
        bias=bias,
        mean_abs=float(np.abs(narrowed).mean(axis=0) @ weights),
        p95_abs=_weighted_quantile(np.abs(narrowed), weights, 0.95),
        within_tolerance=arithmetic.share_of_units(is_inside, weights, units, scoring.target[is_used]),
        over_predicted_any=float((narrowed > 0).mean(axis=0) @ weights),
        over_predicted_beyond_tolerance=float((narrowed > scoring.tolerance).mean(axis=0) @ weights),
        worst_batch=BatchError(batch=names[worst], error=by_unit[worst]),
        worst_over_prediction=BatchError(batch=names[over], error=by_unit[over]) if by_unit[over] > 0 else None,
        monte_carlo_se=float(excess.std(ddof=1) / np.sqrt(len(excess)) / (2.0 * rms)) if rms > 0 else 0.0,
        is_below_resolution=arithmetic.is_below_resolution(true, floor),
    )


def _unit_errors(units: IntArray, weights: FloatArray, error: FloatArray) -> dict[int, float]:
    """The signed error of each unit: of its check with the largest absolute error where it has several."""
    worst: dict[int, float] = {}
    for unit, _weight, value in zip(units, weights, error, strict=True):
        if abs(value) >= abs(worst.get(int(unit), 0.0)):
            worst[int(unit)] = float(value)
    return worst


def _weighted_quantile(values: FloatArray, weights: FloatArray, share: float) -> float:
    """Quantile of values with a weight for each column, ``values`` of shape (n_draws, n_columns)."""
    flat = values.ravel()
    order = np.argsort(flat, kind="stable")
    mass = np.cumsum(np.broadcast_to(weights, values.shape).ravel()[order])
    return float(flat[order][np.searchsorted(mass, share * mass[-1])])
