"""The lasting rule: whether a curve still holds, from all its site checks in order of casting.

Two low checks running, or a one-sided CUSUM over its limit, withdraw the curve. What is drawn from it then is said by
:mod:`.rescaling`: scaled down under a new number where the checks allow it, else calibrated anew.
"""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.issued_curve.rules.rescaling import Rescaling, rescaling_of
from planner.issued_curve.rules.rule_limits import CUSUM_LIMIT, CUSUM_SLACK, LOW_RUNNING, LOW_Z
from planner.issued_curve.rules.site_check import Pour, SiteCheck, pours_of
from planner.issued_curve.rules.tonight import Ground, Tonight, tonight_rule


class Lasting(enum.Enum):
    """What the lasting rule says of the curve after a check. The last two withdraw it."""

    KEEP = "keep"
    RE_SCALE = "re-scale"
    RECALIBRATE = "recalibrate"


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedCheck:
    """One site check, judged. The lasting rule takes the checks of a pour together, at the last of them."""

    check: SiteCheck
    z: float  # below 0 where the concrete was weaker than read
    tonight: Tonight
    grounds: tuple[Ground, ...]
    pour_z: float | None  # of the pour, at its last check; None before, and where no check of it is in the range
    cusum_low: float  # after this check
    lasting: Lasting

    @property
    def is_counted(self) -> bool:
        """Whether the lasting rule looks at it: only inside the curve's range."""
        return self.check.companions.is_inside


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteVerdict:
    """All checks of one curve, and what becomes of the curve."""

    points: tuple[JudgedCheck, ...]
    n_pours: int
    state: Lasting  # after the last check; once withdrawn a curve stays withdrawn
    alarm_at: int | None  # position of the check that withdrew it, from 0
    rescaling: Rescaling | None  # what the checks say of another scale; None while the curve is kept


@dataclass(slots=True)
class _Watch:
    """What the lasting rule remembers from one pour to the next."""

    cusum: float = 0.0
    n_low: int = 0
    climbing: list[Pour] = field(default_factory=list)  # since the CUSUM last left zero
    is_alarmed: bool = False

    def look(self, pour: Pour, z: float) -> None:
        """Take one more pour in."""
        if self.cusum == 0.0 and not self.is_alarmed:
            self.climbing = []
        self.climbing.append(pour)
        self.cusum = max(0.0, self.cusum - z - CUSUM_SLACK)
        self.n_low = self.n_low + 1 if z < LOW_Z else 0
        self.is_alarmed = self.is_alarmed or self.cusum > CUSUM_LIMIT or self.n_low >= LOW_RUNNING


def judge_site_checks(
    checks: Sequence[SiteCheck],
    *,
    later_rms: float,
    deciding_maturities_h: Sequence[float],
    tolerance: float,
    scale_sd: float | None = None,
) -> SiteVerdict:
    """Judge the site checks of one curve in order of casting.

    Parameters
    ----------
    checks
        In order of casting, those of a pour one after the other.
    later_rms
        RMS error of the curve on a later pour, relative, above 0.
    deciding_maturities_h
        Maturities at which the curve decides: those of the targets [h at the reference temperature].
    tolerance
        Of the plan, relative: a ratio that changes by less over the checks' maturities may count as flat.
    scale_sd
        Between batches, see :func:`.rescaling_of`.

    Raises
    ------
    ValueError
        Where a figure is out of range.
    """
    if not later_rms > 0 or not deciding_maturities_h:
        raise ValueError(
            f"Site checks need a later-pour error above 0 and a deciding maturity, given {later_rms} and "
            f"{tuple(deciding_maturities_h)}."
        )
    watch, alarm_at = _Watch(), None
    points: list[JudgedCheck] = []
    rescaling: Rescaling | None = None
    pours = pours_of(checks)
    for of_pour in pours:
        before = (watch.cusum, _state(rescaling))
        counted = tuple(check for check in of_pour if check.companions.is_inside)
        pour_z = None
        if counted:
            pour = Pour(checks=counted)
            pour_z = pour.z(later_rms)
            watch.look(pour, pour_z)
        if watch.is_alarmed:
            alarm_at = len(points) + len(of_pour) - 1 if alarm_at is None else alarm_at
            rescaling = rescaling_of(
                watch.climbing,
                later_rms=later_rms,
                deciding_maturities_h=deciding_maturities_h,
                tolerance=tolerance,
                scale_sd=scale_sd,
            )
        for check in of_pour:
            is_last = check is of_pour[-1]
            cusum, state = (watch.cusum, _state(rescaling)) if is_last else before
            z = check.z(later_rms)
            tonight, grounds = tonight_rule(check, z, is_withdrawn=state is not Lasting.KEEP)
            points.append(
                JudgedCheck(
                    check=check,
                    z=z,
                    tonight=tonight,
                    grounds=grounds,
                    pour_z=pour_z if is_last else None,
                    cusum_low=cusum,
                    lasting=state,
                )
            )
    return SiteVerdict(
        points=tuple(points), n_pours=len(pours), state=_state(rescaling), alarm_at=alarm_at, rescaling=rescaling
    )


def _state(rescaling: Rescaling | None) -> Lasting:
    if rescaling is None:
        return Lasting.KEEP
    return Lasting.RECALIBRATE if rescaling.factor is None else Lasting.RE_SCALE
