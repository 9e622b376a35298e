"""``recommendation.json``: the whole answer as one document of plain values.

The keys are a contract; keys may be added, never renamed. Figures that do not exist are null, so that
every JSON reader takes the document. Use it to feed other programs; people read the page or the terminal.
"""

from __future__ import annotations

import json

from planner.report.documents.values.conversion_document import geometries_document
from planner.report.documents.values.plain_values import Document, fields_of, maturity_document, plain_value
from planner.report.documents.values.programmes_document import (
    early_programmes,
    programme_choice,
    recommended_early_programme,
    spending_documents,
)
from planner.terms.results.programme_count import Estimate, ProgrammeCount
from planner.terms.results.recommended.design_figures import Limit
from planner.terms.results.recommended.evidence_figures import ValidFor
from planner.terms.results.recommended.plotted_points import FrontierPoint
from planner.terms.results.recommended.rated_choice import RatedChoice, TargetFigures
from planner.terms.results.recommended.recommendation import Recommendation
from planner.terms.results.recommended.validation_figures import FoldPick, Honest, Rival

__all__ = [
    "Document",
    "choice_document",
    "maturity_document",
    "plain_value",
    "recommendation_document",
    "score_document",
]

SCHEMA = "test-age-planner/recommendation/1"
SCORE_SCHEMA = "test-age-planner/score/1"


def recommendation_document(recommendation: Recommendation) -> Document:
    """Turn the result into nested dicts and lists, in a stable order, without NaN or infinity."""
    advice = recommendation
    return {
        "schema": SCHEMA,
        "version": advice.version,
        "inputs": plain_value(advice.inputs),
        "libraries": plain_value(advice.libraries),
        "evidence": plain_value(advice.evidence),
        "valid_for": _valid_for(advice.valid_for),
        "targets": [
            {"age_h": plain_value(age), "weight": plain_value(weight), "strength_mpa": plain_value(wait)}
            for age, weight, wait in zip(
                advice.target_ages_h,
                advice.target_weights,
                advice.target_waits_mpa or (None,) * len(advice.target_ages_h),
                strict=True,
            )
        ],
        "tolerance": plain_value(advice.tolerance),
        "assurance": plain_value(advice.assurance),
        "search": plain_value(advice.search),
        "recommended": choice_document(advice.recommended),
        "best": choice_document(advice.best),
        "customary": choice_document(advice.customary),
        "equal_gain": choice_document(advice.equal_gain),
        "compared": [choice_document(choice) for choice in advice.compared],
        "tied": [choice_document(choice) for choice in advice.tied],
        "enough": choice_document(advice.enough),
        "honest": _honest(advice.honest),
        "limit": _limit(advice.limit),
        "ages": plain_value(advice.ages),
        "cautions": plain_value(advice.cautions),
        "title": advice.title,
        "budget_specimens": advice.budget_specimens,
        "candidate_ages_h": plain_value(advice.candidate_ages_h),
        "n_tied": advice.n_tied,
        "next_best": [choice_document(choice) for choice in advice.next_best],
        "reasons": list(advice.reasons),
        "standing_cautions": list(advice.standing_cautions),
        "frontier": [_frontier_point(point) for point in advice.frontier],
        "growth": plain_value(advice.growth),
        "held_out": plain_value(advice.held_out),
        "currency": advice.currency,
        "sufficiency": plain_value(advice.sufficiency),
        "programme": programme_document(advice.programme),
        "checks": plain_value(advice.checks),
        "estimate": _estimate(advice.estimate),
        "by_temperature": plain_value(advice.by_temperature),
        "slip": plain_value(advice.slip),
        **spending_documents(advice.spending, early_programmes(advice)),
        "early_breaks": plain_value(advice.early_breaks),
        "recommended_early_programme": recommended_early_programme(advice),
        "waiting": plain_value(advice.waiting),
        "constants": plain_value(advice.constants),
        "careful_constant": plain_value(advice.careful),
        "mortar": plain_value(advice.mortar),
        "if_then": plain_value(advice.if_then),
        **({} if advice.geometries is None else {"geometries": geometries_document(advice.geometries)}),
        **({} if advice.trial is None else {"trial": plain_value(advice.trial)}),
    }


def score_document(scored: RatedChoice, recommendation: Recommendation) -> Document:
    """One schedule somebody asked about, beside the whole recommendation."""
    judged = None if scored.programme is None else programme_choice(scored.programme)
    return {
        "schema": SCORE_SCHEMA,
        "version": recommendation.version,
        "scored": {**(choice_document(scored) or {}), "programme": judged},
        "recommendation": recommendation_document(recommendation),
    }


def write_json(document: Document) -> str:
    """Write a document as text: ASCII, so that any stream and any code page carries it unharmed."""
    return json.dumps(document, indent=1, allow_nan=False) + "\n"


def choice_document(choice: RatedChoice | None) -> Document | None:
    """One joint choice under the keys of the contract."""
    if choice is None:
        return None
    return {
        "ages_h": plain_value(choice.schedule.ages_h),
        "specimens": list(choice.schedule.specimens),
        "n_specimens": choice.schedule.n_specimens,
        "last_age_h": plain_value(choice.schedule.last_age_h),
        "cost": plain_value(choice.cost),
        "n_batches": plain_value(choice.n_batches),
        "curve": choice.curve,
        "weighting": choice.weighting,
        "maturity": maturity_document(choice.maturity),
        "error": {
            **fields_of(choice.error),
            "per_target": [_target_figures(figures) for figures in choice.per_target],
        },
        "label": choice.label,
        "score": plain_value(choice.score),
        "n_visits": plain_value(choice.n_visits),
        "efficiency": plain_value(choice.efficiency),
        "schedule_rms": plain_value(choice.schedule_rms),
        "is_extrapolating": plain_value(choice.is_extrapolating),
        "is_beaten": plain_value(choice.is_beaten),
        "basis": choice.basis,
        "note": choice.note,
    }


def programme_document(count: ProgrammeCount | None) -> Document | None:
    """What is made for the whole calibration, sums included."""
    if count is None:
        return None
    return {**fields_of(count), "n_broken": count.n_broken, "n_made": count.n_made}


def _estimate(estimate: Estimate | None) -> Document | None:
    """Casting hour, attendances, and every line with its price. The counts stand under ``programme``."""
    if estimate is None:
        return None
    document = fields_of(estimate)
    schedule = document.pop("schedule")
    del document["count"]
    schedule_keys = {"ages_h": schedule["ages_h"], "specimens": schedule["specimens"]}
    return {**schedule_keys, **document, "in_all": plain_value(estimate.in_all)}


def _target_figures(figures: TargetFigures) -> Document:
    return {"age_h": plain_value(figures.age_h), **fields_of(figures.figures)}


def _honest(honest: Honest) -> Document:
    return {
        "own_batch": plain_value(honest.own_batch),
        "next_batch": plain_value(honest.next_batch),
        "best": {"nested_rms": plain_value(honest.best_nested_rms)},
        "safe_reading_factor": plain_value(honest.safe_reading_factor),
        "per_target": plain_value(honest.per_target),
        "sentence": honest.sentence,
        "next_batch_unknown_because": honest.next_batch_unknown_because,
        "safe_reading_basis": honest.safe_reading_basis,
        "safe_reading_unknown_because": honest.safe_reading_unknown_because,
        "folds": [_with_schedule(fold) for fold in honest.folds],
        "mixes": plain_value(honest.mixes),
        "rivals": [_with_schedule(rival) for rival in honest.rivals],
    }


def _limit(limit: Limit | None) -> Document | None:
    if limit is None:
        return None
    return {
        **fields_of(limit),
        "best_ages": [{"age_h": plain_value(age), "share": plain_value(share)} for age, share in limit.best_ages],
    }


def _valid_for(valid_for: ValidFor) -> Document:
    youngest, oldest = valid_for.maturity_span_h
    document = fields_of(valid_for)
    del document["maturity_span_h"]
    document["maturity_span"] = {"youngest_h": plain_value(youngest), "oldest_h": plain_value(oldest)}
    document["recalibrate_when"] = document.pop("recalibrate_when")  # last, after the span
    return document


def _frontier_point(point: FrontierPoint) -> Document:
    return _with_schedule(point)


def _with_schedule(value: FoldPick | Rival | FrontierPoint) -> Document:
    """Put ages and specimens beside the other keys instead of one level down."""
    document = fields_of(value)
    schedule = document.pop("schedule")
    return {"ages_h": schedule["ages_h"], "specimens": schedule["specimens"], **document}
