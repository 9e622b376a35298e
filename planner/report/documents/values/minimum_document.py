"""``minimum.json``: the specification writer's answer as one document of plain values."""

from __future__ import annotations

from planner.report.documents.values.recommendation_document import Document, plain_value, recommendation_document
from planner.terms.results.answers import MinimumAnswer

SCHEMA = "test-age-planner/minimum/1"


def minimum_document(answer: MinimumAnswer) -> Document:
    """Turn the answer into nested dicts and lists; the recommendation stands inside it."""
    told = answer.recommendation
    clause: Document = plain_value(answer.clause)
    clause["paragraphs"] = [{"subject": subject, "text": text} for subject, text in answer.clause.paragraphs]
    return {
        "schema": SCHEMA,
        "version": told.version,
        "tolerance": plain_value(told.tolerance),
        "assurance": plain_value(told.assurance),
        "together": plain_value(answer.together),
        "targets": plain_value(answer.targets),
        "clause": clause,
        "recommendation": recommendation_document(told),
    }
