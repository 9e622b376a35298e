"""``minimum.json``: the specification writer's answer as one document of plain values."""

from __future__ import annotations

from dataclasses import fields

from planner.report.documents.values.plain_values import Document, plain_value
from planner.report.documents.values.programmes_document import programme_choice
from planner.report.documents.values.recommendation_document import recommendation_document
from planner.report.text.clause.clause_text import clause_heading, clause_sections
from planner.terms.results.minimum.clause_terms import ClauseTerms
from planner.terms.results.minimum.minimum_figures import AtLeast, Least, MinimumAnswer, TargetMinimum
from planner.terms.results.programme_figures import Programme

SCHEMA = "test-age-planner/minimum/1"


def minimum_document(answer: MinimumAnswer) -> Document:
    """Turn the answer into nested dicts and lists; the recommendation stands inside it."""
    advice = answer.recommendation
    return {
        "schema": SCHEMA,
        "version": advice.version,
        "tolerance": plain_value(advice.tolerance),
        "assurance": plain_value(advice.assurance),
        "together": target_document(answer.together),
        "targets": [target_document(target) for target in answer.targets],
        "clause": clause_document(answer.clause),
        "recommendation": recommendation_document(advice),
    }


def target_document(target: TargetMinimum) -> Document:
    """One target; programmes under the keys that they have everywhere."""
    document: Document = {
        item.name: plain_value(getattr(target, item.name))
        for item in fields(target)
        if item.name not in ("leasts", "own_batch", "nearest", "customary", "at_least")
    }
    return {
        **document,
        "fewest": _programme(target.fewest),
        "leasts": [_least(item) for item in target.leasts],
        "own_batch": [_least(item) for item in target.own_batch],
        "nearest": _programme(target.nearest),
        "customary": _programme(target.customary),
        "at_least": _at_least(target.at_least),
    }


def clause_document(clause: ClauseTerms) -> Document:
    """The values of a clause and its paragraphs."""
    return {
        "heading": clause_heading(clause),
        **plain_value(clause),
        "paragraphs": clause_paragraphs(clause),
    }


def clause_paragraphs(clause: ClauseTerms) -> list[Document]:
    """Every paragraph in order, with its number, party and consequence."""
    return [
        {
            "number": paragraph.number,
            "section": section.heading,
            "subject": paragraph.subject,
            "party": paragraph.party,
            "text": paragraph.text,
            "consequence": paragraph.consequence,
            "rests_on": paragraph.rests_on,
        }
        for section in clause_sections(clause)
        for paragraph in section.paragraphs
    ]


def _programme(programme: Programme | None) -> Document | None:
    return None if programme is None else programme_choice(programme)


def _least(item: Least) -> Document:
    return {"of": item.of, "is_extrapolating": item.is_extrapolating, "programme": programme_choice(item.programme)}


def _at_least(item: AtLeast | None) -> Document | None:
    if item is None:
        return None
    return {
        "standard": item.standard,
        "fewest_specimens": item.fewest_specimens,
        "fewest_ages": item.fewest_ages,
        "programme": _programme(item.programme),
    }
