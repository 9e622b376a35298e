"""The limits of the rules that every sheet, clause, estimate and page quotes. One place, no other."""

from __future__ import annotations

from typing import Final

LOW_Z: Final = -1.6448536269514722  # a check below it is low: 1 sound check in 20, standard normal quantile of 5 %
LOW_RUNNING: Final = 2  # so many low checks running withdraw the curve
CUSUM_SLACK: Final = 0.5  # downward departure that is not counted, in standard deviations of a check
CUSUM_LIMIT: Final = 4.0  # the curve is withdrawn when the sum of what is counted passes it
FALSE_ALARM: Final = 0.05  # of the acceptance of a calibration, all companions together
WORTH_MORE_BREAKS: Final = 0.10  # least chance that more companions turn a refusal
