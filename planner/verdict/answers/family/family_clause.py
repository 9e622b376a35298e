"""One clause for a family: the rule's breaks, every mix's curve, and the figures of the mix that is read worst."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.terms.results.minimum.clause_terms import ClauseTerms


def family_clause(clauses: Sequence[ClauseTerms]) -> ClauseTerms:
    """Put together the clauses that the mixes have with the same breaks.

    Whatever must hold for all is the strictest: the largest safe-reading factor, the shortest deviations, the
    temperatures that all share. Errors and rules of checks are those of the mix that is read worst.
    """
    worst = max(clauses, key=_headline)
    assert worst.error is not None
    factors = [item.error.safe_reading_factor for item in clauses if item.error is not None]
    known = [factor for factor in factors if factor is not None]
    ranges = [item.temperature_c for item in clauses if item.temperature_c is not None]
    shared = (max(low for low, _ in ranges), min(high for _, high in ranges)) if len(ranges) == len(clauses) else None
    strengths = [item.strength_mpa for item in clauses if item.strength_mpa is not None]
    zeros = {item.age_zero for item in clauses}
    geometries = {item.geometry for item in clauses}
    return replace(
        worst,
        mixes=tuple(mix for item in clauses for mix in item.mixes),
        geometry=worst.geometry if len(geometries) == 1 else "",
        is_cylinder=all(item.is_cylinder for item in clauses),
        age_zero=zeros.pop() if len(zeros) == 1 else "",
        strength_mpa=(
            min(low for low, _, _ in strengths),
            sum(mean for _, mean, _ in strengths) / len(strengths),
            max(high for _, _, high in strengths),
        )
        if strengths
        else None,
        tolerance=max(item.tolerance for item in clauses),
        assurance=min(item.assurance for item in clauses),
        ages=tuple(
            replace(
                age,
                permitted_deviation_h=min(
                    (d for item in clauses if (d := item.ages[at].permitted_deviation_h) is not None), default=None
                ),
                multiple=None,
            )
            for at, age in enumerate(worst.ages)
        ),
        n_instrumented=max(item.n_instrumented for item in clauses),
        n_spares=max(item.n_spares for item in clauses),
        curves=tuple(curve for item in clauses for curve in item.curves),
        error=replace(
            worst.error,
            safe_reading_factor=max(known) if len(known) == len(clauses) else None,
            no_factor_because="" if len(known) == len(clauses) else _why_no_factor(clauses),
            n_batches=sum(item.error.n_batches for item in clauses if item.error is not None),
            n_breaks=sum(item.error.n_breaks for item in clauses if item.error is not None),
            worst_mix=worst.mixes[0] if worst.mixes else "",
        ),
        temperature_c=shared if shared is not None and shared[0] < shared[1] else None,
        recorded_temperature_c=None,
        standard=None,
    )


def _why_no_factor(clauses: Sequence[ClauseTerms]) -> str:
    errors = [item.error for item in clauses if item.error is not None]
    return next((error.no_factor_because for error in errors if error.safe_reading_factor is None), "")


def _headline(clause: ClauseTerms) -> float:
    error = clause.error
    if error is None:
        return 0.0
    return error.own_batch_rms if error.later_rms is None else error.later_rms
