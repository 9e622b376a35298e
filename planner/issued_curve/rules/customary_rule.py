"""The customary rule "every check within 10 %", with how often it is wrong. Shown beside, never decided by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from planner.resampling.errors.arithmetic import share_beyond, share_inside

CUSTOMARY_LIMIT: Final = 0.10  # common practice, no source; ASTM C1074 speaks of a difference of 10 % (from memory)
BIAS_LOOKED_FOR: Final = 0.15  # a curve that reads so much too high is one that a check should notice


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomaryRule:
    """How often "within 10 %" fails a sound curve and passes a wrong one, errors taken as normal."""

    limit: float
    false_alarm: float  # chance that one sound check lies outside
    false_alarm_low: float  # the part of it with the concrete weaker than read
    low_twice: float  # two sound checks running low
    low_three_times: float
    bias: float  # by how much the wrong curve reads too high
    miss: float  # chance that one check of it passes


def customary_rule(sd: float) -> CustomaryRule:
    """What the customary rule does where one check departs with this standard deviation.

    Parameters
    ----------
    sd
        Of the difference between companions and reading, relative, above 0.
    """
    if not sd > 0:
        raise ValueError(f"The standard deviation of a check lies above 0, given {sd}.")
    low = float(share_beyond(0.0, sd, CUSTOMARY_LIMIT))
    biased = float(share_inside(BIAS_LOOKED_FOR, sd, CUSTOMARY_LIMIT))
    return CustomaryRule(
        limit=CUSTOMARY_LIMIT,
        false_alarm=2.0 * low,
        false_alarm_low=low,
        low_twice=low**2,
        low_three_times=low**3,
        bias=BIAS_LOOKED_FOR,
        miss=biased,
    )
