"""One batch read from every set of its ages by a curve that has learnt from the other batches."""

from __future__ import annotations

import numpy as np

from planner.evidence import Cells
from planner.resampling.priors.learnt import population_without, shape_without
from planner.resampling.priors.loops import NOT_FITTED, sweep_population, sweep_shape
from planner.terms.arrays import AnyArray, FloatArray, IntArray
from planner.terms.plan.settings import CurveName

Swept = tuple[FloatArray, FloatArray, AnyArray]  # errors, contributions, status of each fit


def sweep_learnt(
    cells: Cells,
    members: AnyArray,
    n_ages: IntArray,
    view: int,
    checks: IntArray,
    *,
    curve: CurveName,
    setting: int,
    without: int | None = None,
) -> Swept:
    """Fit every set to one view and hold it against any checks.

    What the curve has learnt includes neither the unit of the view, nor the one that is read, nor `without`.

    Parameters
    ----------
    members, n_ages
        Positions ``(n_sets, most_ages)`` and their number ``(n_sets,)``.
    checks
        Of any batches, ``(n_checks,)``.

    Returns
    -------
    tuple
        Errors ``(n_sets, n_checks)``, variance contributions of single specimens ``(n_sets, n_checks, most_ages)``
        and status of each fit ``(n_sets,)``. NaN where too few batches are left to learn from.
    """
    error = np.full((len(n_ages), len(checks)), np.nan)
    contribution = np.zeros((*error.shape, members.shape[1]))
    status = np.full(len(n_ages), NOT_FITTED, dtype=np.int8)
    batch = _batch_of(cells, members, n_ages, setting, view)
    unit_read = cells.check_unit[checks]
    own = {int(cells.views.unit[view])} | ({without} if without is not None else set())
    for unit in np.unique(unit_read).tolist():
        at = np.flatnonzero(unit_read == unit)
        part, single = np.full((len(n_ages), len(at)), np.nan), np.zeros((len(n_ages), len(at), members.shape[1]))
        _sweep(
            cells, batch, checks[at], (part, single, status), curve=curve, setting=setting,
            left_out=frozenset(own | {unit}),
        )  # fmt: skip
        error[:, at], contribution[:, at] = part, single
    return error, contribution, status


def sweep_learnt_draws(
    cells: Cells,
    members: AnyArray,
    view: int,
    checks: IntArray,
    factor: FloatArray,
    *,
    curve: CurveName,
    setting: int,
    without: int | None = None,
) -> FloatArray:
    """Fit one set to drawn means of one view, and hold every fit against the view's own checks.

    Parameters
    ----------
    members
        ``(1, n_ages)``.
    factor
        Of the cell means, ``(n_draws, n_ages)``.

    Returns
    -------
    FloatArray
        Errors ``(n_draws, n_checks)``.
    """
    n_draws, n_ages = factor.shape
    places = members[0, :n_ages].astype(np.int64)
    # every draw is a set of ages of its own: all draws side by side, as if they were further ages of the batch
    drawn = (
        np.arange(n_draws * n_ages).reshape(n_draws, n_ages).astype(np.int16 if n_draws * n_ages < 2**15 else np.int64),
        np.full(n_draws, n_ages, dtype=np.int64),
        np.tile(cells.views.maturity_h[setting, view, places], n_draws),
        (cells.views.mean_mpa[view, places] * factor).ravel(),
        np.tile(cells.cv[places], n_draws),
    )
    error = np.full((n_draws, len(checks)), np.nan)
    out = (error, np.zeros((*error.shape, n_ages)), np.full(n_draws, NOT_FITTED, dtype=np.int8))
    own = {int(cells.views.unit[view])} | ({without} if without is not None else set())
    _sweep(cells, drawn, checks, out, curve=curve, setting=setting, left_out=frozenset(own))
    return error


Batch = tuple[AnyArray, IntArray, FloatArray, FloatArray, FloatArray]  # members, their number; maturity, mean, scatter


def _batch_of(cells: Cells, members: AnyArray, n_ages: IntArray, setting: int, view: int) -> Batch:
    return (
        members.astype(np.int16),  # one type everywhere, or the loops would be compiled for each
        n_ages.astype(np.int64),
        np.ascontiguousarray(cells.views.maturity_h[setting, view]),
        np.ascontiguousarray(cells.views.mean_mpa[view]),
        cells.cv,
    )


def _sweep(
    cells: Cells,
    batch: Batch,
    checks: IntArray,
    out: Swept,
    *,
    curve: CurveName,
    setting: int,
    left_out: frozenset[int],
) -> None:
    """Fill errors, contributions and status; leave them where nothing can be learnt."""
    at = (
        np.ascontiguousarray(cells.checks.maturity_h[setting, checks]),
        np.ascontiguousarray(cells.checks.truth_mpa[checks]),
    )
    if curve == "population prior":
        population = population_without(cells, setting, left_out)
        if population is not None:
            sweep_population(*batch, population.knots, population.own, *at, *out)
        return
    shape = shape_without(cells, setting, left_out)
    if shape is not None:
        sweep_shape(*batch, shape.center, shape.penalty, shape.scatter, *at, *out)
