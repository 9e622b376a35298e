"""Tonight's rule: whether anything speaks against going on with one pour. "No objection" is no permission."""

from __future__ import annotations

import enum

from planner.issued_curve.rules.rule_limits import LOW_Z
from planner.issued_curve.rules.site_check import SiteCheck


class Tonight(enum.Enum):
    """What tonight's rule says of one pour."""

    NO_OBJECTION = "no objection"
    WAIT = "wait"
    NOT_JUDGED = "not judged"


class Ground(enum.Enum):
    """Why a pour waits, or why it cannot be judged."""

    COMPANIONS_BELOW_REQUIRED = "companions below required"
    SAFE_READING_BELOW_REQUIRED = "safe reading below required"
    LOW_CHECK = "low check"
    OUTSIDE_RANGE = "outside range"
    CURVE_WITHDRAWN = "curve withdrawn"
    NO_REQUIRED_STRENGTH = "no required strength"
    NO_SAFE_READING = "no safe reading"


WAITING = frozenset(
    {
        Ground.COMPANIONS_BELOW_REQUIRED,
        Ground.SAFE_READING_BELOW_REQUIRED,
        Ground.LOW_CHECK,
        Ground.OUTSIDE_RANGE,
        Ground.CURVE_WITHDRAWN,
    }
)


def tonight_rule(check: SiteCheck, z: float, *, is_withdrawn: bool) -> tuple[Tonight, tuple[Ground, ...]]:
    """Judge one pour by its own check.

    Parameters
    ----------
    z
        Difference of the check in standard deviations of a check on a later pour.
    is_withdrawn
        Whether the lasting rule has withdrawn the curve, by this pour or before: nothing may then be read off it.

    Returns
    -------
    The rule's word and every ground for it; no ground where there is no objection.
    """
    grounds = (*_grounds(check, z), *((Ground.CURVE_WITHDRAWN,) if is_withdrawn else ()))
    if WAITING.intersection(grounds):
        return Tonight.WAIT, grounds
    return (Tonight.NOT_JUDGED if grounds else Tonight.NO_OBJECTION), grounds


def _grounds(check: SiteCheck, z: float) -> list[Ground]:
    required, safe = check.required_mpa, check.safe_mpa
    grounds: list[Ground] = []
    if required is None:
        grounds.append(Ground.NO_REQUIRED_STRENGTH)
    elif check.companions.broken_mpa < required:
        grounds.append(Ground.COMPANIONS_BELOW_REQUIRED)
    if safe is None:
        if check.companions.is_inside:  # outside the range that is what stands there
            grounds.append(Ground.NO_SAFE_READING)
    elif required is not None and safe < required:
        grounds.append(Ground.SAFE_READING_BELOW_REQUIRED)
    if z < LOW_Z:
        grounds.append(Ground.LOW_CHECK)
    if not check.companions.is_inside:
        grounds.append(Ground.OUTSIDE_RANGE)
    return grounds
