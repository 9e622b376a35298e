"""What the site checks of an issued curve come to."""

from __future__ import annotations

from dataclasses import dataclass

from planner.issued_curve.calibration.issued import IssuedCurve
from planner.issued_curve.rules.alarm_chances import AlarmChances
from planner.issued_curve.rules.customary_rule import CustomaryRule
from planner.issued_curve.rules.lasting import SiteVerdict
from planner.issued_curve.rules.next_prior import NextPrior
from planner.terms.problems import Caution


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteAnswer:
    """All checks of one curve, judged, with what to do now."""

    curve: IssuedCurve  # that was checked
    verdict: SiteVerdict
    check_sd: float  # standard deviation of a check with the usual companions, relative
    alarms: AlarmChances
    customary: CustomaryRule
    next_prior: NextPrior  # what the next batch of the mix is expected to be
    rescaled: IssuedCurve | None  # under a new number; None: kept, or to be calibrated anew
    inputs: tuple[tuple[str, str], ...]  # (file, "sha256:...") of the checks
    cautions: tuple[Caution, ...]
