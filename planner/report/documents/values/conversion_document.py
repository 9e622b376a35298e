"""Conversions between geometries, and the geometries side by side, as plain values."""

from __future__ import annotations

from collections.abc import Sequence

from planner.report.documents.values.plain_values import Document, plain_value
from planner.terms.results.geometry.conversion_figures import ConversionFigures
from planner.terms.results.geometry.geometry_options import GeometryAnswer


def conversions_document(conversions: Sequence[ConversionFigures]) -> list[Document]:
    """Every conversion, the chosen form named."""
    return [
        {
            "from": one.from_geometry,
            "to": one.to_geometry,
            "ratio": one.ratio,
            "ratio_se": one.ratio_se,
            "power": None if one.power is None else list(one.power),
            "rms_left_out": dict(one.rms_left_out),
            "chosen": one.form,
            "span_mpa": list(one.span_mpa),
            "n_pairs": one.n_pairs,
            "n_batches": one.n_batches,
            "between_batch_cv": one.between_batch_cv,
            "targets": [{"age_h": age, "from_mpa": mpa, "error": error} for age, mpa, error in one.deciding],
            "table": plain_value(one.table),
            "by_age": plain_value(one.by_age),
        }
        for one in conversions
    ]


def geometries_document(geometries: GeometryAnswer) -> Document:
    """The best programme of every geometry, with what its error is made of."""
    return {
        "target_geometry": geometries.target_geometry,
        "because": str(geometries.because),
        "options": plain_value(geometries.options),
        "conversions": conversions_document(geometries.conversions),
    }
