"""Chance that a calibration must be repeated, what that is expected to cost, and how many spares are worth casting."""

from __future__ import annotations

import numpy as np

from planner.issued_curve.calibration.expectation import strangers_among
from planner.issued_curve.rules.alarm_chances import chance_within, shared_part
from planner.issued_curve.rules.refusal_chances import RefusalChances, refusal_chances
from planner.resampling.errors.arithmetic import BOUND_CONFIDENCE
from planner.terms.arrays import BoolArray, FloatArray
from planner.terms.plan.settings import Costs
from planner.terms.results.price_parts import Risk, SpareOption
from planner.terms.results.programme_count import Estimate
from planner.terms.results.recommended.recommendation import Recommendation
from planner.verdict.answers.price.pricing import alone, joint_of
from planner.verdict.selection.search import Search
from planner.verdict.validation.restricted import FoldTable

USUAL_CHECKS = 20  # site checks, where the plan names none
FEWEST_BATCHES = 3


def risk_of(
    search: Search,
    advice: Recommendation,
    table: FoldTable,
    estimate: Estimate,
    *,
    batch_cost: float | None,
    once: float,
) -> Risk | None:
    """The risk of the recommended calibration; None where fewer than three measured batches can tell.

    Parameters
    ----------
    batch_cost, once
        Of one trial batch with its acceptance, None without prices, and what is paid once.
    """
    own, settings = advice.honest.own_batch, search.plan.settings
    errors = None if own is None or search.basis.is_drawn else own_errors(table, advice)
    if own is None or errors is None or len(errors[0]) < FEWEST_BATCHES or own.nested_rms <= 0:
        return None
    names, rows = errors
    strangers = strangers_among(search.plan.records.breaks, advice.recommended.schedule.ages_h)
    is_stranger = np.array([(strangers or {}).get(name, False) for name in names])
    cells = search.cells
    cv = np.array([cells.cv[int(np.argmin(np.abs(cells.ages_h - age)))] for age in cells.target_ages_h])
    n_companions = settings.programme_asked.companions_taken
    chances = refusal_chances(
        scaled(rows, own.nested_rms),
        own_rms=own.nested_rms,
        within_test_cv=cv,
        n_companions=n_companions,
        tolerance=settings.target.tolerance,
    )
    repeated, n_batches = with_strangers(chances, is_stranger), estimate.count.n_trial_batches
    options = spare_options(
        chances,
        repeated.mean(axis=1),
        n_companions,
        settings.costs,
        n_batches=n_batches,
        batch_cost=batch_cost,
        once=once,
    )
    lower, upper = share_bounds(repeated[0])
    n_checks = settings.programme_asked.n_checks or USUAL_CHECKS
    alarm = _false_alarm(advice, cv, n_companions, n_checks, n_curves=n_batches)
    keys = [option.chance_of_repeat if option.expected_cost is None else option.expected_cost for option in options]
    return Risk(
        chance_of_repeat=float(repeated[0].mean()),
        n_strangers=None if strangers is None else int(is_stranger.sum()),
        chance_lower_95=lower,
        chance_upper_95=upper,
        n_batches=len(rows),
        cost_without_repeat=None if batch_cost is None else once + n_batches * batch_cost,
        options=options,
        cheapest=int(np.argmin(keys)),
        n_checks=n_checks,
        chance_of_false_alarm=alarm,
        expected_alarm_cost=None if alarm is None or batch_cost is None else alarm * n_batches * batch_cost,
    )


def with_strangers(chances: RefusalChances, is_stranger: BoolArray) -> FloatArray:
    """Chance that a trial batch like each earlier one is cast anew, ``(n_targets + 1, n_batches)``; a stranger is."""
    return np.where(is_stranger, 1.0, chances.refused_by_batch)


def own_errors(table: FoldTable, advice: Recommendation) -> tuple[list[str], FloatArray] | None:
    """Batches that have all targets, and broken over read less 1 of the recommended curve, ``(n, n_targets)``."""
    joint = joint_of(table, advice.recommended)
    at = FoldTable(
        table.cells, table.scoring, alone(table, advice.recommended.schedule), table.joints,
        table.loss[:, :1], table.joint[:, :1], table.left_out[:, :1],
    ).at_checks(0, joint)  # fmt: skip
    checks, n_targets = table.cells.checks, len(table.cells.target_ages_h)
    batches = np.array([table.cells.views.batch[view] for view in checks.view])
    names, rows = [], []
    for name in dict.fromkeys(batches.tolist()):
        means = [_mean(at.error[(batches == name) & (table.scoring.target == t)]) for t in range(n_targets)]
        if np.all(np.isfinite(means)):
            names.append(name)
            rows.append(1.0 / (1.0 + np.array(means)) - 1.0)
    return (names, np.array(rows)) if rows else None


def _mean(errors: FloatArray) -> float:
    known = errors[np.isfinite(errors)]
    return float(known.mean()) if len(known) else float("nan")


def scaled(errors: FloatArray, rms: float) -> FloatArray:
    """The errors drawn together, or apart, about nought until their mean square is that of held-out batches."""
    shown = float(np.sqrt(np.mean(errors**2)))
    return errors if shown == 0 else errors * (rms / shown)


def spare_options(
    chances: RefusalChances,
    repeated: FloatArray,
    n_companions: int,
    costs: Costs | None,
    *,
    n_batches: int,
    batch_cost: float | None,
    once: float,
) -> tuple[SpareOption, ...]:
    """Expected costs without spares and with a group of companions in reserve for one target more at a time.

    A refused trial batch, or one that is a stranger to the records, is cast anew until one is accepted, so that on the
    mean 1 / (1 - p) are cast for each.

    Parameters
    ----------
    repeated
        Chance that a trial batch is cast anew, for 0, 1, ... groups in reserve, ``(n_targets + 1,)``.
    """
    options = []
    for n_groups, chance in enumerate(repeated.tolist()):
        expected = None
        if batch_cost is not None and costs is not None and chance < 1.0:
            attempt = (
                batch_cost
                + n_groups * n_companions * (costs.specimen + costs.other_each_specimen)
                + float(chances.groups_broken[n_groups]) * n_companions * (costs.preparation + costs.break_one)
                + float(chances.more[n_groups]) * costs.of_companions_visit
            )
            expected = once + n_batches * attempt / (1.0 - chance)
        options.append(SpareOption(n_spares=n_groups * n_companions, chance_of_repeat=chance, expected_cost=expected))
    return tuple(options)


def share_bounds(shares: FloatArray) -> tuple[float, float]:
    """One-sided 95 % bounds on a chance from each batch's own, added up like counts.

    References
    ----------
    Clopper & Pearson 1934, Biometrika 26:404; the beta quantiles take counts that are not whole.
    """
    from scipy.special import betaincinv

    n, count = len(shares), float(np.sum(shares))
    lower = float(betaincinv(count, n - count + 1.0, 1.0 - BOUND_CONFIDENCE)) if count > 0 else 0.0
    upper = float(betaincinv(count + 1.0, n - count, BOUND_CONFIDENCE)) if count < n else 1.0
    return lower, upper


def _false_alarm(
    advice: Recommendation, cv: FloatArray, n_companions: int, n_checks: int, *, n_curves: int
) -> float | None:
    later = advice.honest.next_batch
    if later is None or later.rms <= 0:
        return None
    shared = shared_part(
        later_rms=later.rms, n_curves=n_curves, within_test_cv=float(cv.mean()), n_companions=n_companions
    )
    return chance_within(n_checks, shared=shared)
