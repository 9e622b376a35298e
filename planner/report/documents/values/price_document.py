"""``price.json``: the estimator's answer as one document of plain values."""

from __future__ import annotations

from planner.report.documents.values.recommendation_document import (
    Document,
    plain_value,
    programme_document,
    recommendation_document,
)
from planner.terms.results.answers import PriceAnswer, PricePoint
from planner.terms.results.price_parts import Alternative
from planner.terms.results.programme_count import Estimate

SCHEMA = "test-age-planner/price/1"


def price_document(answer: PriceAnswer) -> Document:
    """Turn the answer into nested dicts and lists; the recommendation stands inside it."""
    advice = answer.recommendation
    return {
        "schema": SCHEMA,
        "version": advice.version,
        "currency": advice.currency,
        "budget_cost": plain_value(answer.budget_cost),
        "sufficiency": plain_value(advice.sufficiency),
        "frontier_by_specimens": [_point(point) for point in answer.by_specimens],
        "frontier_by_cost": [_point(point) for point in answer.by_cost],
        "next_specimen": plain_value(answer.gains),
        "one_specimen_less": plain_value(answer.losses),
        "equal": plain_value(answer.equalities),
        "estimates": [_estimate(estimate) for estimate in answer.estimates],
        "to_fill_in": list(answer.to_fill_in),
        "alternatives": [_alternative(item) for item in answer.alternatives],
        "risk": plain_value(answer.risk),
        "ready_by_h": plain_value(answer.ready_by_h),
        "relies_on_records": answer.relies_on_records,
        "without_ready_by": plain_value(answer.without_ready_by),
        "recommendation": recommendation_document(advice),
    }


def _point(point: PricePoint) -> Document:
    document: Document = plain_value(point)
    schedule = document.pop("schedule")
    return {"ages_h": schedule["ages_h"], "specimens": schedule["specimens"], **document}


def _alternative(item: Alternative) -> Document:
    document: Document = plain_value(item)
    schedule = document.pop("schedule") or {"ages_h": [], "specimens": []}
    return {"ages_h": schedule["ages_h"], "specimens": schedule["specimens"], **document}


def _estimate(estimate: Estimate) -> Document:
    document: Document = plain_value(estimate)
    document["count"] = programme_document(estimate.count)
    document["in_all"] = plain_value(estimate.in_all)
    document["items"] = [{**plain_value(item), "is_open": item.is_open} for item in estimate.items]
    return document
