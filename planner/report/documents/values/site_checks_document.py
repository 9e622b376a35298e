"""The site checks of an issued curve as one document of plain values."""

from __future__ import annotations

from typing import Any

from planner.issued_curve.calibration.maturity_unit import maturity_unit
from planner.issued_curve.rules.lasting import JudgedCheck
from planner.issued_curve.site_answer import SiteAnswer
from planner.report.documents.values.curve_document import bare_curve_document
from planner.report.documents.values.recommendation_document import plain_value

SCHEMA = "test-age-planner/site-checks/1"

Document = dict[str, Any]


def site_checks_document(answer: SiteAnswer) -> Document:
    """Every check in order, what becomes of the curve, and the chances of an alarm."""
    verdict, alarms = answer.verdict, answer.alarms
    _, per_hour = maturity_unit(answer.curve.maturity)
    rescaling = verdict.rescaling
    return {
        "schema": SCHEMA,
        "version": answer.curve.version,
        "curve": answer.curve.number,
        "inputs": dict(answer.inputs),
        "points": [_point(point, per_hour) for point in verdict.points],
        "n_pours": verdict.n_pours,
        "state": verdict.state.value,
        "withdrawn_at": None if verdict.alarm_at is None else verdict.points[verdict.alarm_at].check.companions.batch,
        "standard_deviation": answer.check_sd,
        "chance_of_alarm": {str(n): chance for n, chance in zip(alarms.n_checks, alarms.sound, strict=True)},
        "chance_of_alarm_weaker": {str(n): chance for n, chance in zip(alarms.n_checks, alarms.dropped, strict=True)},
        "checks_to_find_a_drop": alarms.mean_to_find_drop,
        "rescaling": None
        if rescaling is None
        else {
            "factor": rescaling.factor,
            "refused_because": None if rescaling.refusal is None else rescaling.refusal.value,
            "n_checks": rescaling.n_checks,
            "mean_difference": rescaling.mean_difference,
            "weight": rescaling.weight,
            "change_over_span": rescaling.change_over_span,
        },
        "next_batch": plain_value(answer.next_prior),
        "rescaled": None if answer.rescaled is None else bare_curve_document(answer.rescaled),
        "cautions": plain_value(answer.cautions),
    }


def _point(point: JudgedCheck, per_hour: float) -> Document:
    check = point.check
    return {
        "batch": check.companions.batch,
        "age_h": check.companions.age_h,
        "placement": check.companions.placement,
        "maturity": check.companions.maturity_h * per_hour,
        "n_specimens": check.companions.n_specimens,
        "read_mpa": check.companions.read_mpa,
        "safe_mpa": check.safe_mpa,
        "broken_mpa": check.companions.broken_mpa,
        "required_mpa": check.required_mpa,
        "z": point.z,
        "pour_z": point.pour_z,
        "is_counted": point.is_counted,
        "tonight": point.tonight.value,
        "grounds": [ground.value for ground in point.grounds],
        "cusum_low": point.cusum_low,
        "lasting": point.lasting.value,
    }
