"""Programmes as plain values: schedule, trial batches, errors, money."""

from __future__ import annotations

from planner.report.documents.values.plain_values import Document, maturity_document, plain_value
from planner.terms.results.after_casting.early_answer import EarlyBreakRow
from planner.terms.results.programme_figures import Programme, Spending
from planner.terms.results.recommended.recommendation import Recommendation


def spending_documents(spending: Spending | None, early: list[Document]) -> Document:
    """Keys that the recommendation gains; null and empty where batches are drawn.

    Parameters
    ----------
    early
        Programmes in which every pour may break specimens of its own, from :func:`early_programmes`.
    """
    return {
        "programmes": [*([] if spending is None else [programme_choice(item) for item in spending.programmes]), *early],
        "recommended_programme": None if spending is None else programme_choice(spending.recommended),
        "spending": None
        if spending is None
        else {
            "judged_on": spending.judged_on,
            "judged_because": spending.judged_because,
            "immaterial": plain_value(spending.immaterial),
            "is_enough": spending.is_enough,
            "n_tied": spending.n_tied,
            "lowest": None if spending.lowest is None else programme_choice(spending.lowest),
            "score": plain_value(spending.score),
            "score_from_other_schedules": plain_value(spending.score_from_other_schedules),
            "sentences": list(spending.sentences),
        },
    }


def early_programmes(advice: Recommendation) -> list[Document]:
    """What each pour breaks as programmes, by trial batches and specimens, none first."""
    answer = advice.early_breaks
    if answer is None:
        return []
    worth = None if answer.recommended is None else answer.rows[answer.recommended]
    return [_early_programme(advice, row, is_worth=row is worth) for rows in answer.by_trials for row in rows]


def recommended_early_programme(advice: Recommendation) -> Document | None:
    """The one that is worth its specimens; None where there is none."""
    answer = advice.early_breaks
    if answer is None or answer.recommended is None:
        return None
    return _early_programme(advice, answer.rows[answer.recommended], is_worth=True)


def _early_programme(advice: Recommendation, row: EarlyBreakRow, *, is_worth: bool) -> Document:
    choice = advice.recommended
    number = row.n_trial_batches
    schedule = choice.schedule if number else None
    return {
        "n_trial_batches": number,
        "ages_h": [] if schedule is None else plain_value(schedule.ages_h),
        "specimens": [] if schedule is None else list(schedule.specimens),
        "n_specimens": 0 if schedule is None else schedule.n_specimens * number,
        "geometry": advice.valid_for.geometry,
        "curve": "records" if schedule is None else choice.curve,
        "weighting": choice.weighting,
        "maturity": maturity_document(choice.maturity),
        "early": {"ages_h": plain_value(row.ages_h), "specimens": list(row.specimens)} if row.ages_h else None,
        "reading": row.reading,
        "own_batch": None,
        "next_batch": {
            "rms": plain_value(row.rms),
            "rms_upper_95": plain_value(row.rms_upper_95),
            "within_tolerance": plain_value(row.within_tolerance),
            "within_tolerance_lower_95": None,
            "over_predicted_beyond_tolerance": plain_value(row.over_predicted_beyond_tolerance),
            "reads_within": plain_value(row.reads_within),
            "safe_reading_factor": plain_value(row.safe_reading_factor),
        },
        "cost": plain_value(row.cost_of_calibration),
        "cost_per_pour": plain_value(row.cost_per_pour),
        "is_tied": is_worth,
        "is_enough": row.reads_within <= advice.tolerance,
    }


def programme_choice(programme: Programme) -> Document:
    """One programme under the keys of the contract."""
    later, better = programme.next_batch, programme.beaten_by
    return {
        "n_trial_batches": programme.n_trial_batches,
        "ages_h": plain_value(programme.schedule.ages_h),
        "specimens": list(programme.schedule.specimens),
        "n_specimens": programme.n_specimens,
        "geometry": programme.geometry,
        "curve": programme.curve,
        "weighting": programme.weighting,
        "maturity": maturity_document(programme.maturity),
        "early": None,
        "reading": programme.reading,
        "own_batch": {
            "rms": plain_value(programme.own_batch_rms),
            "within_tolerance": plain_value(programme.own_batch_within_tolerance),
        },
        "next_batch": None
        if later is None
        else {
            "rms": plain_value(later.rms),
            "rms_se": plain_value(later.rms_se),
            "rms_upper_95": plain_value(later.rms_upper_95),
            "within_tolerance": plain_value(later.within_tolerance),
            "within_tolerance_lower_95": plain_value(later.within_tolerance_lower_95),
            "over_predicted_beyond_tolerance": plain_value(later.over_predicted_beyond_tolerance),
            "worst_batch_rms": plain_value(later.worst_batch_rms),
            "safe_reading_factor": plain_value(later.safe_reading_factor),
            "is_extrapolated": later.is_extrapolated,
        },
        "cost": plain_value(programme.cost),
        "cost_per_pour": None,
        "n_visits": programme.n_visits,
        "last_age_h": plain_value(programme.schedule.last_age_h),
        "is_tied": programme.is_tied,
        "is_enough": programme.is_enough,
        "is_within_limits": programme.is_within_limits,
        "beaten_by": None
        if better is None
        else {
            "n_trial_batches": better.n_trial_batches,
            "ages_h": plain_value(better.schedule.ages_h),
            "specimens": list(better.schedule.specimens),
            "rms": plain_value(better.rms),
            "within_tolerance": plain_value(better.within_tolerance),
            "score_times": plain_value(better.score_times),
        },
    }
