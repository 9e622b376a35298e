"""Whole mixes left out: quantiles instead of normal laws, and what the worst mixes have in common."""

from __future__ import annotations

import numpy as np

from planner.evidence import Cells
from planner.resampling.errors.arithmetic import BOUND_CONFIDENCE, SAFE_READING_CONFIDENCE
from planner.terms.arrays import FloatArray, IntArray
from planner.terms.results.mix_errors import Common, MixErrors, Trait, WorstMix
from planner.verdict.selection.nested import Nested
from planner.verdict.statistics.coverage_bounds import batches_needed
from planner.verdict.statistics.order_bounds import HEAVY_SHARE, n_worst, order_bound, worst_fifth_share
from planner.verdict.validation.next_batch import NextBatchErrors
from planner.verdict.validation.own_batch import order_quantile

SHARE = 0.8  # of the mixes: what a quantile is told of
FEWEST_TO_NAME_WORST = 5
MOST_NAMED = 5


def signed_by_mix(cells: Cells, nested: Nested, errors: NextBatchErrors | None) -> tuple[FloatArray, IntArray]:
    """The signed error of each mix that was left out, its worst reading, and which mixes these are.

    Later pours where any mix has two batches; mixes with one batch then judge nothing.
    """
    if errors is None:
        return nested.signed, nested.units
    unit_of = dict(zip(cells.views.batch, cells.views.unit.tolist(), strict=True))
    batches = tuple(dict.fromkeys(cells.views.batch))  # in the order that pairs count them
    unit = np.array([unit_of[batches[int(at)]] for at in errors.read_on])
    units = np.unique(unit)
    worst = [errors.error[unit == each][np.argmax(np.abs(errors.error[unit == each]))] for each in units]
    return np.array(worst), units


def highest_by_mix(cells: Cells, nested: Nested, errors: NextBatchErrors | None) -> FloatArray:
    """The highest reading of each mix, predicted over actual less 1, ``(n_mixes,)``."""
    error = nested.shown.error if errors is None else errors.error
    if errors is None:
        unit = cells.check_unit
    else:
        unit_of = dict(zip(cells.views.batch, cells.views.unit.tolist(), strict=True))
        batches = tuple(dict.fromkeys(cells.views.batch))
        unit = np.array([unit_of[batches[int(at)]] for at in errors.read_on])
    is_had = np.isfinite(error)
    units = np.unique(unit[is_had])
    return np.array([error[is_had & (unit == each)].max() for each in units])


def mix_errors(cells: Cells, nested: Nested, errors: NextBatchErrors | None, *, assurance: float) -> MixErrors:
    """What the order of the mixes' errors shows."""
    signed, units = signed_by_mix(cells, nested, errors)
    absolute, n = np.abs(signed), len(signed)
    needed_for_safe = batches_needed(assurance, confidence=SAFE_READING_CONFIDENCE)
    share = worst_fifth_share(signed)
    worst = np.argsort(-absolute, kind="stable")[: n_worst(n)] if n >= FEWEST_TO_NAME_WORST else np.empty(0, dtype=int)
    strength, last_age_h = _strengths(cells)[units], _last_ages(cells)[units]
    traits = {Trait.STRENGTH: strength, Trait.LAST_AGE: last_age_h}
    return MixErrors(
        basis="own batch" if errors is None else "next batch",
        n_mixes=n,
        quantile_abs=order_quantile(absolute, SHARE),
        quantile_upper_95=order_bound(absolute, share=SHARE, confidence=BOUND_CONFIDENCE),
        n_more_for_quantile=max(batches_needed(SHARE, confidence=BOUND_CONFIDENCE) - n, 0),
        n_more_for_safe_reading=max(needed_for_safe - n, 0),
        worst_fifth_share=share,
        is_heavy_tailed=share > HEAVY_SHARE,
        worst=tuple(
            WorstMix(
                mix=cells.unit_names[units[at]],
                error=float(signed[at]),
                strength_mpa=float(strength[at]),
                last_age_h=float(last_age_h[at]),
            )
            for at in worst[:MOST_NAMED]
        ),
        in_common=tuple(found for trait, values in traits.items() if (found := _common(trait, values, worst))),
    )


def safe_factor_of_mixes(highest: FloatArray, *, assurance: float) -> float | None:
    """Safe-reading factor from the order of the mixes' highest readings; None with too few mixes."""
    bound = order_bound(highest, share=assurance, confidence=SAFE_READING_CONFIDENCE)
    return None if bound is None else 1.0 + max(0.0, bound)


def _strengths(cells: Cells) -> FloatArray:
    """Mean truth of each mix [MPa], ``(n_units,)``; NaN where it has none."""
    n_checks = np.bincount(cells.check_unit, minlength=cells.n_units)
    total = np.bincount(cells.check_unit, weights=cells.checks.truth_mpa, minlength=cells.n_units)
    return np.asarray(np.where(n_checks > 0, total / np.maximum(n_checks, 1), np.nan))


def _last_ages(cells: Cells) -> FloatArray:
    """Oldest standard-cured age at which a mix was broken [h], ``(n_units,)``."""
    last = np.zeros(cells.n_units)
    for view, unit in enumerate(cells.views.unit):
        held = cells.ages_h[cells.views.n_specimens[view] > 0]
        last[unit] = max(last[unit], float(held.max(initial=0.0)))
    return last


def _common(trait: Trait, values: FloatArray, worst: IntArray) -> Common | None:
    """Whether all of the worst lie in one outer third of all, apart from every other mix or not."""
    if len(worst) < 2:
        return None
    is_worst = np.isin(np.arange(len(values)), worst)
    low, high = np.quantile(values, [1.0 / 3.0, 2.0 / 3.0])
    own, others = values[is_worst], values[~is_worst]
    is_low, is_high = bool(np.all(own <= low)), bool(np.all(own >= high))
    if is_low == is_high:  # neither, or all values alike
        return None
    return Common(
        trait=trait,
        is_low=is_low,
        worst=(float(own.min()), float(own.max())),
        others=(float(others.min()), float(others.max())),
    )
