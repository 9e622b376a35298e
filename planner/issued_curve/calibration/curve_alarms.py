"""The chances that site checks of an issued curve raise an alarm."""

from __future__ import annotations

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.rules.alarm_chances import AlarmChances, alarm_chances, shared_part


def alarms_of(curve: IssuedCurve) -> AlarmChances | None:
    """Of this one curve, whose offset all its checks share; None where the later-pour error is not known."""
    promise = curve.promise
    if promise.later_rms is None:
        return None
    return alarm_chances(
        shared=shared_part(
            later_rms=promise.later_rms,
            n_curves=curve.n_curves(),
            within_test_cv=promise.within_test_cv,
            n_companions=promise.companions_per_check,
        )
    )
