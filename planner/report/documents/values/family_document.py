"""``family.json``: the plans, the rule for all of them, every mix left out, the clause."""

from __future__ import annotations

from planner.report.documents.values.minimum_document import clause_document
from planner.report.documents.values.plain_values import Document, plain_value
from planner.terms.results.minimum.family_figures import Envelope, FamilyAnswer

SCHEMA = "test-age-planner/family/1"


def family_document(answer: FamilyAnswer, *, version: str) -> Document:
    """Turn the answer into nested dicts and lists."""
    together = answer.together
    clause = None if answer.clause is None else clause_document(answer.clause)
    return {
        "schema": SCHEMA,
        "version": version,
        "plans": plain_value(answer.rows),
        "envelope": None if together is None else _envelope(together),
        "no_envelope_because": answer.no_envelope_because,
        "left_out": [] if together is None else plain_value(together.left_out),
        "targets": [_envelope(item) for item in answer.targets],
        "clause": [] if clause is None else clause["paragraphs"],
        "clause_terms": clause,
    }


def _envelope(envelope: Envelope) -> Document:
    return {**plain_value(envelope), "n_kept": sum(item.is_kept for item in envelope.members)}
