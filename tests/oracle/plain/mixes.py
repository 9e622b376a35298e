"""Whole mixes left out: bounds by counting, worst mixes by sorting."""

from __future__ import annotations

import math

import numpy as np
from scipy import stats

from tests.oracle.plain.bounds import order_quantile, share_inside_lower_free
from tests.oracle.plain.candidates import Candidates
from tests.oracle.plain.figures import Used, assembled
from tests.oracle.plain.later_pours import pairs_of


def readings_by_mix(candidates: Candidates, used: Used) -> dict[str, list[float]]:
    """Errors of every mix by the choice that had not seen it: on later pours where there are pairs, else its own."""
    study = candidates.study
    found: dict[str, list[float]] = {}
    pairs = pairs_of(candidates, used)
    if pairs is None:
        at = assembled(candidates, used)
        for check, error in zip(study.checks, at.error, strict=True):
            found.setdefault(study.units[check.unit], []).append(float(error))
        return found
    unit_of = {view.batch: study.units[view.unit] for view in study.views}
    for batch, error in zip(pairs.read_on, pairs.error, strict=True):
        found.setdefault(unit_of[batch], []).append(float(error))
    return {name: found[name] for name in study.units if name in found}


def bound_on_share(values: list[float], share: float, confidence: float) -> float | None:
    """The least value that is above the quantile unless too many of the values fell below it."""
    n = len(values)
    for place, value in enumerate(sorted(values), start=1):
        # value is below the quantile only where `place` or more of n fell below it
        if stats.binom.sf(place - 1, n, share) <= 1 - confidence:
            return value
    return None


def mix_figures(candidates: Candidates, used: Used, *, assurance: float) -> dict[str, object]:
    """Everything that is said of mixes left out."""
    by_mix = readings_by_mix(candidates, used)
    worst = {name: max(errors, key=abs) for name, errors in by_mix.items()}
    sizes = [abs(error) for error in worst.values()]
    n, n_worst = len(worst), -(-len(worst) // 5)
    squares = sorted((error**2 for error in sizes), reverse=True)
    share = sum(squares[:n_worst]) / sum(squares)
    safe = bound_on_share([max(errors) for errors in by_mix.values()], assurance, 0.90)
    ordered = sorted(worst, key=lambda name: -abs(worst[name]))[:n_worst]
    return {
        "n_mixes": n,
        "quantile_abs": order_quantile(sizes, 0.8),
        "quantile_upper_95": bound_on_share(sizes, 0.8, 0.95),
        "n_more_for_quantile": max(math.ceil(math.log(0.05) / math.log(0.8)) - n, 0),
        "n_more_for_safe_reading": max(math.ceil(math.log(0.10) / math.log(assurance) - 1e-9) - n, 0),
        "worst_fifth_share": share,
        "is_heavy_tailed": share > 0.8,
        "worst": [(name, worst[name]) for name in ordered[:5]],
        "worst_fifth": ordered,
        "safe_factor": None if safe is None else 1 + max(0.0, safe),
        "wanted_share_reach": bound_on_share(sizes, assurance, 0.95),
        "share_lower": share_inside_lower_free(n, sum(size > candidates.limits.tolerance for size in sizes)),
    }


def traits_of(candidates: Candidates) -> dict[str, dict[str, float]]:
    """Mean truth and oldest standard-cured age of every mix."""
    study = candidates.study
    truths = {
        name: np.mean([check.truth_mpa for check in study.checks if study.units[check.unit] == name])
        for name in study.units
    }
    ages = {
        name: max(age for view in study.views if study.units[view.unit] == name for age in view.mean_mpa)
        for name in study.units
    }
    return {"strength at the target": truths, "last age broken": ages}
