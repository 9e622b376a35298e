"""Programmes as plain values: schedule, trial batches, errors, money."""

from __future__ import annotations

from planner.report.documents.values.plain_values import Document, maturity_document, plain_value
from planner.terms.results.programme_figures import Programme, Spending


def spending_documents(told: Spending | None) -> Document:
    """Keys that the recommendation gains; null and empty where batches are drawn."""
    return {
        "programmes": [] if told is None else [programme_choice(item) for item in told.programmes],
        "recommended_programme": None if told is None else programme_choice(told.recommended),
        "spending": None
        if told is None
        else {
            "judged_on": told.judged_on,
            "judged_because": told.judged_because,
            "immaterial": plain_value(told.immaterial),
            "is_enough": told.is_enough,
            "n_tied": told.n_tied,
            "score": plain_value(told.score),
            "score_from_other_schedules": plain_value(told.score_from_other_schedules),
            "sentences": list(told.sentences),
        },
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
