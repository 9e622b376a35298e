"""How far site checks of an issued curve scatter, and the chances that they raise an alarm."""

from __future__ import annotations

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.rules.alarm_chances import AlarmChances, alarm_chances, shared_part
from planner.issued_curve.rules.companions import comparison_sd


def check_sd(curve: IssuedCurve, *, is_converted: bool = True) -> float | None:
    """Standard deviation of one site check, relative; None where the later-pour error is not known.

    Parameters
    ----------
    is_converted
        Whether companions are of the geometry that the curve's own breaks are of.
    """
    reading_rms = curve.promise.check_rms(is_converted=is_converted)
    if reading_rms is None:
        return None
    return comparison_sd(
        reading_rms=reading_rms,
        within_test_cv=curve.promise.within_test_cv,
        n_specimens=curve.promise.companions_per_check,
    )


def alarms_of(curve: IssuedCurve, *, is_converted: bool = True) -> AlarmChances | None:
    """Of this one curve, whose offset all its checks share; None where the later-pour error is not known.

    Parameters
    ----------
    is_converted
        As for `check_sd`.
    """
    promise = curve.promise
    later_rms = promise.check_rms(is_converted=is_converted)
    if later_rms is None:
        return None
    return alarm_chances(
        shared=shared_part(
            later_rms=later_rms,
            n_curves=curve.n_curves(),
            within_test_cv=promise.within_test_cv,
            n_companions=promise.companions_per_check,
        )
    )
