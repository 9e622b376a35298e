"""``curve.json`` and ``curve.csv``: the issued curve for loggers and programs; ``planner.read.read_curve`` reads it.

Maturities are written in the unit of the curve (`maturity_unit`), parameters and knots in hours at the reference
temperature, strengths in MPa. Keys may be added, never renamed.
"""

from __future__ import annotations

import csv
import io
from typing import Any

from planner.curves.fitted_strength import names_of_parameters
from planner.issued_curve.calibration.batch_fit import BatchFit
from planner.issued_curve.calibration.issue import Issue
from planner.issued_curve.calibration.issued import BatchCurve, IssuedCurve
from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.calibration.readings import table_of
from planner.issued_curve.seal import SCHEMA, sealed
from planner.report.documents.values.recommendation_document import plain_value
from planner.terms.maturity import MaturitySetting

CSV_COLUMNS = ("maturity", "maturity_unit", "strength_mpa", "safe_mpa")

Document = dict[str, Any]


def curve_document(issue: Issue) -> Document:
    """Everything of one issued curve as nested dicts and lists, without NaN or infinity."""
    document = bare_curve_document(issue.curve)
    curve = issue.curve
    _, per_hour = maturity_unit(curve.maturity)
    full = {
        **document,
        "hours": plain_value(issue.hours),
        "readings": [
            {
                "age_h": reading.age_h,
                "maturity": reading.maturity_h * per_hour,
                "strength_mpa": reading.strength_mpa,
                "safe_mpa": plain_value(reading.safe_mpa),
                "assurance": reading.assurance,
                "is_inside": reading.is_inside,
            }
            for reading in issue.readings
        ],
        "checks": _checks(issue, per_hour),
        "acceptance": _acceptance(issue),
        "early_correction": plain_value(issue.early_correction),
        "stranger": issue.is_stranger,
        "fits": [_fit(fit, per_hour) for fit in issue.fits],
        "other_curves": [
            {"batch": fit.means.batch, "curves": plain_value(others)}
            for fit, others in zip(issue.fits, issue.others, strict=True)
        ],
        "site_checks": None
        if issue.alarms is None
        else {
            "standard_deviation": plain_value(issue.check_sd),
            "chance_of_alarm": _by_number(issue.alarms.n_checks, issue.alarms.sound),
            "chance_of_alarm_weaker": _by_number(issue.alarms.n_checks, issue.alarms.dropped),
            "checks_to_find_a_drop": issue.alarms.mean_to_find_drop,
        },
        "evidence": {"grade": issue.grade, "n_batches": curve.promise.n_batches},
        "recalibrate_when": list(issue.recalibrate_when),
        "cautions": plain_value(issue.cautions),
        "standing_cautions": list(issue.standing_cautions),
    }
    return sealed(full)


def bare_curve_document(curve: IssuedCurve) -> Document:
    """What the curve itself is: enough to read it back and to read strengths off it."""
    unit, per_hour = maturity_unit(curve.maturity)
    rows = table_of(curve)
    bare = {
        "schema": SCHEMA,
        "version": curve.version,
        "inputs": dict(curve.inputs),
        "number": curve.number,
        "supersedes": curve.supersedes,
        "title": curve.title,
        "mix": curve.mix,
        "geometry": curve.geometry,
        "property": curve.property,
        "curve": curve.curve,
        "weighting": curve.weighting,
        "maturity": maturity_with_reference(curve.maturity),
        "maturity_unit": unit,
        "parameters": [_parameters(curve, item) for item in curve.batches],
        "scale": curve.scale,
        "basis": curve.basis,
        "is_calibrated": curve.is_calibrated,
        "standard_curing_c": curve.standard_c,
        "age_zero": curve.age_zero,
        "target_ages_h": list(curve.target_ages_h),
        "waits_mpa": list(curve.waits_mpa),
        "table": [
            {
                "maturity": row.maturity_h * per_hour,
                "strength_mpa": row.strength_mpa,
                "safe_mpa": plain_value(row.safe_mpa),
            }
            for row in rows
        ],
        "valid_for": {
            "mix": curve.mix,
            "geometry": curve.geometry,
            "property": curve.property,
            "concrete_temperature_c": plain_value(curve.temperature_c),
            "maturity_span": {"youngest_h": curve.span_h[0], "oldest_h": curve.span_h[1]},
            "strength_span_mpa": [rows[0].strength_mpa, rows[-1].strength_mpa],
        },
        "promise": plain_value(curve.promise),
        "conversion": plain_value(curve.conversion),
        "pours": plain_value(curve.pour_model),
    }
    return sealed(bare)


def render_curve_csv(curve: IssuedCurve) -> str:
    """The table of the sheet, one row a maturity; a refused safe reading is empty."""
    unit, per_hour = maturity_unit(curve.maturity)
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for row in table_of(curve):
        safe = "" if row.safe_mpa is None else repr(row.safe_mpa)
        writer.writerow((repr(row.maturity_h * per_hour), unit, repr(row.strength_mpa), safe))
    return stream.getvalue()


def maturity_with_reference(setting: MaturitySetting) -> Document:
    """The maturity function with its constants, the reference temperature of both methods included."""
    constant = {"equivalent age": "q_k", "temperature-time": "datum_c"}.get(setting.method)
    if constant is None:
        return {"method": setting.method}
    return {"method": setting.method, constant: setting.constant, "reference_c": setting.reference_c}


def parameter_names(curve: IssuedCurve, item: BatchCurve) -> tuple[str, ...]:
    """Names of the parameters; those of piecewise curves and of the records' mean are the means at the knots."""
    if curve.curve == "records":
        return tuple(f"mean_{place}_mpa" for place in range(1, len(item.parameters) + 1))
    return names_of_parameters(curve.curve, len(item.parameters))


def _parameters(curve: IssuedCurve, item: BatchCurve) -> Document:
    names = parameter_names(curve, item)
    return {
        "batch": item.batch,
        "values": dict(zip(names, item.parameters, strict=True)),
        "standard_errors": dict(zip(names, item.parameter_se, strict=True)),
        "knots_h": list(item.knots_h),
    }


def _checks(issue: Issue, per_hour: float) -> list[Document]:
    """Site-cured companions beside the reading at their own maturity: ``difference`` is broken over read less 1."""
    if issue.acceptance is None:
        return []
    return [
        {
            "batch": check.companions.batch,
            "age_h": check.companions.age_h,
            "placement": check.companions.placement,
            "maturity": check.companions.maturity_h * per_hour,
            "n_specimens": check.companions.n_specimens,
            "read_mpa": check.companions.read_mpa,
            "broken_mpa": check.companions.broken_mpa,
            "difference": check.companions.difference,
            "z": check.z,
            "is_judged": check.is_judged,
            "passes": check.is_within_limit if check.is_judged else None,
            "is_inside_tolerance": check.is_inside_tolerance,
        }
        for check in issue.acceptance.checks
    ]


def _acceptance(issue: Issue) -> Document | None:
    accepted = issue.acceptance
    if accepted is None:
        return None
    return {
        "verdict": accepted.verdict.value,
        "z_limit": accepted.z_limit,
        "mean_difference": plain_value(accepted.mean_difference),
        "tolerance": accepted.tolerance,
        "sound_refused_at_most": accepted.sound_refused_at_most,
        "break_more": [
            {"batch": item.batch, "age_h": item.age_h, "placement": item.placement} for item in accepted.break_more
        ],
    }


def _fit(fit: BatchFit, per_hour: float) -> Document:
    means = fit.means
    return {
        "batch": means.batch,
        "lack_of_fit": plain_value(fit.lack_of_fit),
        "means": [
            {
                "age_h": age,
                "maturity": maturity * per_hour,
                "mean_mpa": mean,
                "n_specimens": int(count),
                "departure": departure,
            }
            for age, maturity, mean, count, departure in zip(
                means.age_h.tolist(),
                means.maturity_h.tolist(),
                means.mean_mpa.tolist(),
                means.n_specimens.tolist(),
                fit.departure.tolist(),
                strict=True,
            )
        ],
    }


def _by_number(n_checks: tuple[int, ...], chances: tuple[float, ...]) -> Document:
    return {str(n): chance for n, chance in zip(n_checks, chances, strict=True)}
