"""One pour read from its early breaks as plain values: ``pour.json``.

Maturities are in the unit of the curve, strengths in MPa.
"""

from __future__ import annotations

from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.pour_answer import PourAnswer, PourRow
from planner.report.documents.values.plain_values import Document, plain_value

SCHEMA = "test-age-planner/pour/1"


def pour_document(answer: PourAnswer) -> Document:
    """Early breaks, whether it is a stranger, readings, table."""
    unit, per_hour = maturity_unit(answer.curve.maturity)
    model = answer.curve.pour_model
    return {
        "schema": SCHEMA,
        "version": answer.curve.version,
        "curve": answer.curve.number,
        "inputs": dict(answer.inputs),
        "batch": answer.pour,
        "maturity_unit": unit,
        "assurance": answer.curve.promise.assurance,
        "reading": None if model is None else model.reading,
        "early": [
            {
                "age_h": cell.age_h,
                "curing": cell.curing,
                "maturity": cell.maturity_h * per_hour,
                "mean_mpa": cell.mean_mpa,
                "n_specimens": cell.n_specimens,
            }
            for cell in answer.early
        ],
        "stranger": plain_value(answer.strangeness),
        "readings": [_row(row, per_hour) for row in answer.rows],
        "table": [
            {
                "maturity": row.maturity_h * per_hour,
                "curve_mpa": row.curve_mpa,
                "strength_mpa": row.strength_mpa,
                "safe_mpa": row.safe_mpa,
            }
            for row in answer.table
        ],
        "cautions": plain_value(answer.cautions),
    }


def _row(row: PourRow, per_hour: float) -> Document:
    return {
        "age_h": row.age_h,
        "is_target": row.is_target,
        "placement": row.placement,
        "maturity": None if row.maturity_h is None else row.maturity_h * per_hour,
        "temperature_c": row.temperature_c,
        "curve_mpa": row.curve_mpa,
        "strength_mpa": row.strength_mpa,
        "interval_mpa": plain_value(row.interval_mpa),
        "safe_mpa": row.safe_mpa,
        "not_read_because": None if row.why_not is None else row.why_not.value,
    }
